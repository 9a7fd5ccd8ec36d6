import { inflateSync } from 'node:zlib';
import type { PDFDict, PDFObject } from 'pdf-lib';
import { luma } from '../image/luma.js';
import { unfilter } from '../image/unfilter.js';
import { type ColourSpace, colourSpaceOf } from './colour-space.js';
import type { Objects } from './objects.js';

/** A picture of a page as brightness, row by row from the top, 0 black to 255 white. */
export interface PictureSamples {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
  /** Made of two levels only, one bit each. */
  readonly isBits: boolean;
}

/** Larger pictures are left to the renderer. */
const MAX_PIXELS = 120_000_000;

/**
 * Takes a picture's samples out of its stream (ISO 32000-1, section 8.9.5): one or eight bits a component, deflated or
 * JPEG.
 *
 * @returns undefined for pictures that only the renderer knows how to show: masks, other codings, damaged ones
 */
export async function pictureSamples(
  objects: Objects,
  stream: PDFObject,
  resources: PDFDict | undefined,
): Promise<PictureSamples | undefined> {
  const { lib } = objects;
  if (!(stream instanceof lib.PDFRawStream)) return undefined;
  const { dict } = stream;
  const width = objects.number(objects.get(dict, 'Width')) ?? 0;
  const height = objects.number(objects.get(dict, 'Height')) ?? 0;
  if (!Number.isInteger(width) || !Number.isInteger(height) || width < 1 || height < 1 || width * height > MAX_PIXELS)
    return undefined;
  for (const key of ['ImageMask', 'Mask', 'SMask', 'SMaskInData']) {
    const value = objects.get(dict, key);
    if (value !== undefined && String(value) !== 'false' && String(value) !== '0') return undefined;
  }
  const filter = objects.get(dict, 'Filter');
  const filters = (objects.array(filter) ?? [filter]).map((each) => objects.name(each));
  const inverted = invertedBy(objects.get(dict, 'Decode') && objects.numbers(objects.get(dict, 'Decode')));
  if (inverted === undefined || filters.length !== 1) return undefined;
  if (filters[0] === 'DCTDecode' || filters[0] === 'DCT') {
    return inverted ? undefined : jpegSamples(stream.contents, width, height);
  }
  if (filters[0] !== 'FlateDecode' && filters[0] !== 'Fl') return undefined;
  const space = colourSpaceOf(objects, resources, objects.get(dict, 'ColorSpace'));
  const bits = objects.number(objects.get(dict, 'BitsPerComponent'));
  if (space.kind !== 'plain' || (bits !== 8 && (bits !== 1 || space.components !== 1))) return undefined;
  const rowBytes = Math.ceil((width * space.components * bits) / 8);
  const parameters = objects.get(dict, 'DecodeParms');
  const first = objects.asDict(objects.array(parameters)?.[0] ?? parameters);
  const predictor = objects.number(objects.get(first, 'Predictor')) ?? 1;
  const rows = rowsOf(stream.contents, rowBytes, height, predictor, Math.max(1, (space.components * bits) >> 3));
  if (!rows) return undefined;
  const indexed = isIndexed(objects, resources, objects.get(dict, 'ColorSpace'));
  const grey = bits === 1 ? fromBits(rows, width, height, rowBytes, space) : fromBytes(rows, space, indexed);
  if (inverted) for (let i = 0; i < grey.length; i += 1) grey[i] = 255 - grey[i];
  return { width, height, grey, isBits: bits === 1 };
}

/** Whether the samples run from light to dark; undefined for a map that is neither that nor the usual one. */
function invertedBy(decode: readonly number[] | undefined): boolean | undefined {
  if (!decode) return false;
  if (decode.every((value, i) => value === i % 2)) return false;
  return decode.length === 2 && decode[0] === 1 && decode[1] === 0 ? true : undefined;
}

function isIndexed(objects: Objects, resources: PDFDict | undefined, space: PDFObject | undefined): boolean {
  const name = objects.name(space);
  const own = name === undefined ? space : objects.get(objects.dict(resources, 'ColorSpace'), name);
  const family = objects.name(objects.array(own)?.[0]);
  return family === 'Indexed' || family === 'I';
}

async function jpegSamples(bytes: Uint8Array, width: number, height: number): Promise<PictureSamples | undefined> {
  const { default: sharp } = await import('sharp');
  try {
    const image = sharp(bytes, { limitInputPixels: MAX_PIXELS, failOn: 'truncated' });
    // Four inks are as often written inverted as not; the renderer knows the rules.
    if (((await image.metadata()).channels ?? 4) > 3) return undefined;
    const { data, info } = await image
      .toColourspace('b-w')
      .raw({ depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
    if (info.width !== width || info.height !== height || info.channels !== 1) return undefined;
    return { width, height, grey: data, isBits: false };
  } catch {
    return undefined;
  }
}

/** The rows of a deflated picture without their predictors (section 7.4.4.4); undefined when any is missing. */
function rowsOf(
  packed: Uint8Array,
  rowBytes: number,
  height: number,
  predictor: number,
  step: number,
): Uint8Array | undefined {
  const filtered = predictor >= 10;
  if (!filtered && predictor !== 1) return undefined;
  const stride = rowBytes + (filtered ? 1 : 0);
  let bytes: Uint8Array;
  try {
    bytes = inflateSync(packed, { maxOutputLength: stride * height + 1024 });
  } catch {
    return undefined;
  }
  if (bytes.length < stride * height) return undefined;
  if (!filtered) return bytes.subarray(0, rowBytes * height);
  const rows = new Uint8Array(rowBytes * height);
  let prior = new Uint8Array(rowBytes);
  for (let y = 0; y < height; y += 1) {
    const row = rows.subarray(y * rowBytes, (y + 1) * rowBytes);
    row.set(bytes.subarray(y * stride + 1, (y + 1) * stride));
    if (!unfilter(bytes[y * stride], row, prior, step)) return undefined;
    prior = row;
  }
  return rows;
}

/** Brightness of one sample value. */
function brightness(space: ColourSpace, values: readonly number[]): number {
  const [r, g, b] = space.toRgb(values);
  return luma(Math.round(r * 255), Math.round(g * 255), Math.round(b * 255));
}

function fromBits(rows: Uint8Array, width: number, height: number, rowBytes: number, space: ColourSpace): Uint8Array {
  const levels = [0, 1].map((value) => brightness(space, [value]));
  const grey = new Uint8Array(width * height);
  for (let y = 0, i = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1, i += 1) grey[i] = levels[(rows[y * rowBytes + (x >> 3)] >> (7 - (x & 7))) & 1];
  }
  return grey;
}

function fromBytes(rows: Uint8Array, space: ColourSpace, indexed: boolean): Uint8Array {
  const { components } = space;
  if (components === 1) {
    const table = Uint8Array.from({ length: 256 }, (_, v) => brightness(space, [indexed ? v : v / 255]));
    return rows.map((value) => table[value]);
  }
  const grey = new Uint8Array(rows.length / components);
  // Neighbours are mostly alike.
  let known = -1;
  for (let i = 0, at = 0; i < grey.length; i += 1, at += components) {
    let same = known >= 0;
    for (let k = 0; same && k < components; k += 1) same = rows[at + k] === rows[known + k];
    if (same) grey[i] = grey[i - 1];
    else {
      grey[i] = brightness(
        space,
        Array.from(rows.subarray(at, at + components), (value) => value / 255),
      );
    }
    known = at;
  }
  return grey;
}

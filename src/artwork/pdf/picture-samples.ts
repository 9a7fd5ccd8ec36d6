import type { PDFDict, PDFRawStream } from 'pdf-lib';
import { luma } from '../image/luma.js';
import { outsideKey } from './colour-key.js';
import { CMYK, type ColourSpace, colourSpaceOf, GREY, RGB } from './colour-space.js';
import { undoFilters } from './filters.js';
import type { Objects } from './objects.js';
import { type JpegSamples, jpegSamples } from './picture-jpeg.js';
import { DamagedStream, UndecodedStream } from './stream-errors.js';
import { unpack } from './unpack.js';

/** A picture of a page as brightness, row by row from the top, 0 black to 255 white. */
export interface PictureSamples {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
  /** Made of two levels only, one bit each. */
  readonly isBits: boolean;
  /** Where the picture covers what lies beneath, 0 nowhere to 255 wholly; everywhere when left out. */
  readonly alpha?: Uint8Array;
}

/** A picture as its stream holds it: a number for each component of each pixel, at most `largest`. */
interface Codes {
  readonly values: Uint8Array;
  readonly largest: number;
  readonly components: number;
  /** Nobody else holds these bytes. */
  readonly isOwn: boolean;
}

/** Larger pictures are left to the renderer; a sheet of A4 at 1200 dpi has 140 million pixels. */
const MAX_PIXELS = 200_000_000;
const MAX_SAMPLES = 256_000_000;
/** A picture's data may be longer than its rows, and a JPEG's any length. */
const LEAST_LIMIT_BYTES = 2 ** 26;

/** A picture's size; undefined for sizes that can't be. */
export function pictureSize(objects: Objects, dict: PDFDict): { width: number; height: number } | undefined {
  const width = objects.number(objects.get(dict, 'Width')) ?? 0;
  const height = objects.number(objects.get(dict, 'Height')) ?? 0;
  const isSize = Number.isInteger(width) && Number.isInteger(height) && width > 0 && height > 0;
  return isSize && width * height <= MAX_PIXELS ? { width, height } : undefined;
}

/** Whether all values are the same. */
export const isEven = (values: Uint8Array): boolean => values.every((value) => value === values[0]);

/** Whether a picture is a stencil, which paints with the current colour. */
export const isStencil = (objects: Objects, dict: PDFDict): boolean =>
  String(objects.get(dict, 'ImageMask')) === 'true';

/**
 * Takes a picture's samples out of its stream (ISO 32000-1, section 8.9.5), without masks that are streams of
 * their own. Of a stencil, black is what it paints.
 *
 * @returns undefined for pictures that only the renderer knows how to show
 * @throws {DamagedStream} when data are missing
 */
export async function pictureSamples(
  objects: Objects,
  stream: PDFRawStream,
  resources: PDFDict | undefined,
): Promise<PictureSamples | undefined> {
  const { dict } = stream;
  const size = pictureSize(objects, dict);
  if (!size) return undefined;
  const { width, height } = size;
  const stencil = isStencil(objects, dict);
  const bits = stencil ? 1 : (objects.number(objects.get(dict, 'BitsPerComponent')) ?? 0);
  const space = stencil ? undefined : colourSpaceOf(objects, resources, objects.get(dict, 'ColorSpace'));
  if (space && (space.kind !== 'plain' || space.components < 1)) return undefined;
  const components = space?.components ?? 1;
  if (width * height * components > MAX_SAMPLES) return undefined;
  const rowBytes = Math.ceil((width * components * bits) / 8);
  const { bytes, coding } = undoneFilters(objects, stream, Math.max(rowBytes * height, LEAST_LIMIT_BYTES)) ?? {};
  if (!bytes || (coding !== undefined && coding !== 'DCTDecode')) return undefined;
  const isJpeg = coding !== undefined;
  const codes = isJpeg
    ? jpegCodes(await jpegSamples(bytes, width, height))
    : rawCodes(bytes, { width, height, components, bits });
  if (!codes) return undefined;
  // A JPEG says itself whether it has colours.
  const shown = codes.components === components ? space : DEVICE_SPACES[codes.components];
  const decode = decodeOf(objects, dict, shown, isJpeg ? 8 : bits);
  const key = objects.numbers(objects.get(dict, 'Mask'));
  if (!decode || (key && (key.length !== 2 * codes.components || bits === 16))) return undefined;
  const alpha = key && outsideKey(codes.values, codes.components, key);
  const isBits = bits === 1 && components === 1 && !isJpeg;
  return { width, height, grey: greyOf(codes, shown, decode), isBits, alpha };
}

const DEVICE_SPACES: Readonly<Record<number, ColourSpace>> = { 1: GREY, 3: RGB, 4: CMYK };

const jpegCodes = (samples: JpegSamples | undefined): Codes | undefined =>
  samples && { ...samples, largest: 255, isOwn: true };

function rawCodes(
  bytes: Uint8Array,
  { width, height, components, bits }: { width: number; height: number; components: number; bits: number },
): Codes | undefined {
  if (![1, 2, 4, 8, 16].includes(bits)) return undefined;
  if (bytes.length < Math.ceil((width * components * bits) / 8) * height)
    throw new DamagedStream('it has fewer samples than its width and height say');
  const values = unpack(bytes, width * components, height, bits);
  return { values, largest: bits === 16 ? 255 : 2 ** bits - 1, components, isOwn: bits !== 8 };
}

/** A picture's bytes up to its own coding; undefined for unknown filters. */
function undoneFilters(
  objects: Objects,
  stream: PDFRawStream,
  most: number,
): ReturnType<typeof undoFilters> | undefined {
  try {
    return undoFilters(stream.contents, objects.filters(stream.dict), most, true);
  } catch (error) {
    if (error instanceof UndecodedStream) return undefined;
    throw error;
  }
}

/** From where to where each component runs (section 8.9.5.2), as the colour space takes it. */
function decodeOf(
  objects: Objects,
  dict: PDFDict,
  space: ColourSpace | undefined,
  bits: number,
): readonly number[] | undefined {
  const own = objects.get(dict, 'Decode');
  const usual = space?.decode(bits) ?? [0, 1];
  if (own === undefined) return usual;
  const numbers = objects.numbers(own);
  return numbers && numbers.length >= usual.length ? numbers : undefined;
}

/** Brightness of each pixel; in place where it may be. */
function greyOf(
  { values, largest, components, isOwn }: Codes,
  space: ColourSpace | undefined,
  decode: readonly number[],
): Uint8Array {
  // A table for each component: what its code stands for.
  const scales = Array.from({ length: components }, (_, k) =>
    Float64Array.from(
      { length: largest + 1 },
      (__, v) => decode[2 * k] + (v * (decode[2 * k + 1] - decode[2 * k])) / largest,
    ),
  );
  const brightness = (colour: readonly number[]): number => {
    const [r, g, b] = space ? space.toRgb(colour) : [colour[0], colour[0], colour[0]];
    return luma(Math.round(r * 255), Math.round(g * 255), Math.round(b * 255));
  };
  if (components === 1) {
    const table = Uint8Array.from(scales[0], (value) => brightness([value]));
    const grey = isOwn ? values : new Uint8Array(values.length);
    for (let i = 0; i < grey.length; i += 1) grey[i] = table[values[i]];
    return grey;
  }
  const grey = new Uint8Array(values.length / components);
  const colour = new Array<number>(components);
  for (let i = 0, at = 0; i < grey.length; i += 1, at += components) {
    // Neighbours are mostly alike.
    let same = i > 0;
    for (let k = 0; same && k < components; k += 1) same = values[at + k] === values[at + k - components];
    if (same) grey[i] = grey[i - 1];
    else {
      for (let k = 0; k < components; k += 1) colour[k] = scales[k][values[at + k]];
      grey[i] = brightness(colour);
    }
  }
  return grey;
}

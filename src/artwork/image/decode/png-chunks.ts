import * as zlib from 'node:zlib';
import { crc32 as tableCrc32 } from '../../../export/formats/crc32.js';
import { checkPixelCount, damaged } from '../refusals.js';
import type { StatedResolution } from '../source.js';

export interface PngFile {
  readonly width: number;
  readonly height: number;
  readonly bitDepth: number;
  readonly colourType: number;
  readonly interlaced: boolean;
  /** RGB triples. */
  readonly palette: Uint8Array | undefined;
  /** Contents of tRNS. */
  readonly transparency: Uint8Array | undefined;
  readonly resolution: StatedResolution | undefined;
  readonly pixelAspect: number | undefined;
  /** Contents of the IDAT chunks in order; views, nothing is copied. */
  readonly data: readonly Uint8Array[];
}

export const GREY = 0;
export const RGB = 2;
export const PALETTE = 3;
const GREY_ALPHA = 4;
const RGBA = 6;

const DEPTHS: Readonly<Record<number, readonly number[]>> = {
  [GREY]: [1, 2, 4, 8, 16],
  [RGB]: [8, 16],
  [PALETTE]: [1, 2, 4, 8],
  [GREY_ALPHA]: [8, 16],
  [RGBA]: [8, 16],
};
const METRE = 1;
const crc32: (bytes: Uint8Array) => number = (zlib as { crc32?: (bytes: Uint8Array) => number }).crc32 ?? tableCrc32;

/**
 * Takes a PNG file apart into what is needed here, and checks every chunk.
 *
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_TOO_LARGE
 * @remarks Source: Portable Network Graphics Specification (W3C, 2nd edition, 2003), sections 5.3, 11.2, 11.3.5.3.
 */
export function parsePng(bytes: Uint8Array, file: string | undefined): PngFile {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let at = 8;
  let header: Pick<PngFile, 'width' | 'height' | 'bitDepth' | 'colourType' | 'interlaced'> | undefined;
  let palette: Uint8Array | undefined;
  let transparency: Uint8Array | undefined;
  let resolution: StatedResolution | undefined;
  let pixelAspect: number | undefined;
  const data: Uint8Array[] = [];
  for (let ended = false; !ended; ) {
    if (at + 12 > bytes.length) throw damaged(file, 'the PNG file is cut off: its end chunk is missing.');
    const length = view.getUint32(at);
    const type = String.fromCharCode(bytes[at + 4], bytes[at + 5], bytes[at + 6], bytes[at + 7]);
    if (at + 12 + length > bytes.length) throw damaged(file, `the PNG file is cut off within its ${type} chunk.`);
    const body = bytes.subarray(at + 8, at + 8 + length);
    if (crc32(bytes.subarray(at + 4, at + 8 + length)) !== view.getUint32(at + 8 + length))
      throw damaged(file, `the checksum of a PNG chunk at byte ${at} is wrong.`);
    if (!header && type !== 'IHDR') throw damaged(file, 'the PNG file does not begin with a header chunk.');
    switch (type) {
      case 'IHDR':
        header = parseHeader(body, file);
        break;
      case 'PLTE':
        palette = body;
        break;
      case 'tRNS':
        transparency = body;
        break;
      case 'IDAT':
        data.push(body);
        break;
      case 'IEND':
        ended = true;
        break;
      case 'pHYs':
        ({ resolution, pixelAspect } = statedBy(body));
        break;
      default:
        // A capital first letter marks a chunk without which the image can't be shown.
        if (bytes[at + 4] < 0x60) throw damaged(file, `the PNG file needs an unknown chunk, ${JSON.stringify(type)}.`);
    }
    at += 12 + length;
  }
  if (!header) throw damaged(file, 'the PNG file has no header chunk.');
  if (data.length === 0) throw damaged(file, 'the PNG file holds no pixels.');
  if (header.colourType === PALETTE && !(palette && palette.length >= 3))
    throw damaged(file, 'the PNG file has palette colours but no palette.');
  return { ...header, palette, transparency, resolution, pixelAspect, data };
}

function statedBy(phys: Uint8Array): { resolution?: StatedResolution; pixelAspect?: number } {
  if (phys.length !== 9) return {};
  const view = new DataView(phys.buffer, phys.byteOffset);
  const [x, y] = [view.getUint32(0), view.getUint32(4)];
  if (x === 0 || y === 0) return {};
  if (phys[8] !== METRE) return { pixelAspect: x / y };
  return { resolution: { perMmX: x / 1000, perMmY: y / 1000, saidBy: 'pHYs chunk' } };
}

/** What stands before the pixels of a PNG about its resolution; the rest of the file is not looked at. */
export function pngResolution(bytes: Uint8Array): StatedResolution | undefined {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  for (let at = 8; at + 12 <= bytes.length; at += 12 + view.getUint32(at)) {
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    if (type === 'IDAT') return undefined;
    if (type === 'pHYs') return statedBy(bytes.subarray(at + 8, at + 8 + view.getUint32(at))).resolution;
  }
  return undefined;
}

function parseHeader(body: Uint8Array, file: string | undefined) {
  if (body.length !== 13) throw damaged(file, `the PNG header has ${body.length} bytes instead of 13.`);
  const view = new DataView(body.buffer, body.byteOffset, body.byteLength);
  const [width, height] = [view.getUint32(0), view.getUint32(4)];
  const [bitDepth, colourType, packing, filter, interlace] = body.subarray(8);
  if (!DEPTHS[colourType]?.includes(bitDepth) || packing !== 0 || filter !== 0 || interlace > 1)
    throw damaged(file, `the PNG header is not valid (colour type ${colourType}, ${bitDepth} bits).`);
  checkPixelCount(width, height, file);
  return { width, height, bitDepth, colourType, interlaced: interlace === 1 };
}

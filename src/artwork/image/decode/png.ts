import { createInflate, type ZlibOptions } from 'node:zlib';
import { crc32 } from '../../../export/formats/deflate.js';
import { checkPixelCount, damaged, luma, type PixelSource, type StatedResolution } from '../source.js';
import { CoverageMap } from '../trace/coverage-map.js';
import { readTiffTags } from './tiff.js';

/** Bytes unpacked at a time: large enough to make steps cheap, small enough to stay in the cache. */
const CHUNK_BYTES = 1 << 18;
/** Chunks that may wait, so that unpacking, which has a thread of its own, runs on while rows are looked at. */
const READ_AHEAD = 4;
/** Deflate can't pack tighter than this: 258 bytes in 2 bits. */
const MAX_RATIO = 1032;

/**
 * The rows of a PNG of a kind that paste layers come in: black and white, 8-bit grey or colour. They are unpacked while
 * they are read, so that memory does not grow with the image, and rows that repeat are not looked at.
 *
 * @returns undefined for other kinds, which the decoder of all other formats reads
 * @throws {InputError} IMAGE_DAMAGED
 */
export function openPlainPng(png: PngFile, file: string | undefined): PixelSource | undefined {
  const { width, height, bitDepth, colourType, transparency, interlaced } = png;
  const bits = meaningOfBits(png);
  const isPlain = bits !== undefined || (bitDepth === 8 && (colourType === GREY || colourType === RGB));
  if (interlaced || transparency || !isPlain) return undefined;
  const step = colourType === RGB ? 3 : 1;
  const rowBytes = Math.ceil((width * bitDepth * step) / 8);
  if (png.data.reduce((sum, part) => sum + part.length, 0) * MAX_RATIO < rowBytes * height)
    throw damaged(file, `the PNG file holds too little data for ${width} x ${height} pixels.`);
  return { ...png, decode: () => decode(png, rowBytes, step, bits, file) };
}

/** The brightness of clear and of set bits, in images of black and white pixels; undefined for others. */
function meaningOfBits({ bitDepth, colourType, palette }: PngFile): readonly [number, number] | undefined {
  if (bitDepth !== 1) return undefined;
  if (colourType !== PALETTE || !palette) return [0, 255];
  const [zero, one] = [0, palette.length < 6 ? 0 : 3].map((at) => luma(palette[at], palette[at + 1], palette[at + 2]));
  return zero + one === 255 && zero % 255 === 0 ? [zero, one] : undefined;
}

async function decode(
  png: PngFile,
  rowBytes: number,
  step: number,
  bits: readonly [number, number] | undefined,
  file: string | undefined,
): Promise<CoverageMap> {
  const map = new CoverageMap(png.width, png.height);
  const take = rowTaker(map, rowBytes, step, bits, file);
  const inflate = createInflate({ chunkSize: CHUNK_BYTES, highWaterMark: READ_AHEAD * CHUNK_BYTES } as ZlibOptions);
  try {
    for (const part of png.data) inflate.write(part);
    inflate.end();
    for await (const chunk of inflate) if (take(chunk as Uint8Array)) return map;
  } catch (error) {
    const code = (error as { code?: string }).code ?? '';
    if (code.startsWith('Z_') || code === 'ERR_STREAM_PREMATURE_CLOSE')
      throw damaged(file, 'the packed pixels of the PNG file are damaged or cut off.', error);
    throw error;
  } finally {
    inflate.destroy();
  }
  throw damaged(file, 'the PNG file is cut off: rows are missing.');
}

/** A function that takes unpacked bytes as they come, and says when the last row is there. */
function rowTaker(
  map: CoverageMap,
  rowBytes: number,
  step: number,
  bits: readonly [number, number] | undefined,
  file: string | undefined,
): (chunk: Uint8Array) => boolean {
  const { width, height } = map;
  const length = rowBytes + 1;
  let current = Buffer.alloc(rowBytes);
  let prior = Buffer.alloc(rowBytes);
  const zeros = Buffer.alloc(rowBytes);
  const out = new Uint8Array(Math.ceil(width / 8) * 8);
  const eight = bits && eightPixels(bits);
  let filter = 0;
  let have = 0;
  let rows = 0;

  function send(): void {
    rows += 1;
    // What the bytes of a row are when it is the same as the one before; not known for the other filters.
    const same = filter === 0 ? prior : filter === 2 ? zeros : undefined;
    if (rows > 1 && same?.equals(current)) {
      map.repeat();
      return;
    }
    if (filter !== 0 && !unfilter(filter, current, prior, step))
      throw damaged(file, `row ${rows} of the PNG file has an unknown filter, ${filter}.`);
    if (eight) fromBits(current, out, eight);
    else if (step === 3) toGrey(current, out, width);
    map.add(eight || step === 3 ? out : current);
    [current, prior] = [prior, current];
  }

  return (chunk) => {
    let at = 0;
    while (at < chunk.length) {
      if (have === 0) {
        filter = chunk[at];
        at += 1;
        have = 1;
      }
      const count = Math.min(length - have, chunk.length - at);
      current.set(chunk.subarray(at, at + count), have - 1);
      at += count;
      have += count;
      if (have === length) {
        have = 0;
        send();
        if (rows === height) return true;
      }
    }
    return false;
  };
}

/** The brightness of the eight pixels of each byte, in two words. */
function eightPixels(bits: readonly [number, number]): Int32Array {
  const pixels = Uint8Array.from({ length: 256 * 8 }, (_, i) => bits[((i >> 3) >> (7 - (i & 7))) & 1]);
  return new Int32Array(pixels.buffer);
}

function fromBits(row: Uint8Array, out: Uint8Array, eight: Int32Array): void {
  const words = new Int32Array(out.buffer);
  for (let i = 0; i < row.length; i += 1) {
    words[2 * i] = eight[2 * row[i]];
    words[2 * i + 1] = eight[2 * row[i] + 1];
  }
}

/** Brightness of a row of colours. Most of a paste layer is plain black or white, which is told four pixels at a time. */
function toGrey(row: Uint8Array, out: Uint8Array, width: number): void {
  const words = new Int32Array(row.buffer, row.byteOffset, row.length >> 2);
  const outWords = new Int32Array(out.buffer, out.byteOffset, out.length >> 2);
  const fours = width >> 2;
  for (let f = 0, w = 0; f < fours; f += 1, w += 3) {
    const first = words[w];
    if ((first === 0 || first === -1) && words[w + 1] === first && words[w + 2] === first) {
      outWords[f] = first;
      continue;
    }
    const x = f * 4;
    for (let i = x * 3, k = x; k < x + 4; k += 1, i += 3) out[k] = luma(row[i], row[i + 1], row[i + 2]);
  }
  for (let x = fours * 4; x < width; x += 1) out[x] = luma(row[3 * x], row[3 * x + 1], row[3 * x + 2]);
}

/**
 * Undoes a PNG row's filter in place.
 *
 * @param filter - 0 none, 1 sub, 2 up, 3 average, 4 Paeth
 * @param row - the filtered row; afterwards the row itself
 * @param prior - the row above, all zero for the first
 * @param step - bytes of a whole pixel, at least 1
 * @returns false for an unknown filter
 * @remarks Source: PNG Specification (W3C, 2nd edition, 2003), section 9.
 */
function unfilter(filter: number, row: Uint8Array, prior: Uint8Array, step: number): boolean {
  const n = row.length;
  switch (filter) {
    case 0:
      return true;
    case 1:
      for (let i = step; i < n; i += 1) row[i] += row[i - step];
      return true;
    case 2:
      for (let i = 0; i < n; i += 1) row[i] += prior[i];
      return true;
    case 3:
      for (let i = 0; i < step && i < n; i += 1) row[i] += prior[i] >> 1;
      for (let i = step; i < n; i += 1) row[i] += (row[i - step] + prior[i]) >> 1;
      return true;
    case 4:
      paeth(row, prior, step);
      return true;
    default:
      return false;
  }
}

function paeth(row: Uint8Array, prior: Uint8Array, step: number): void {
  for (let i = 0; i < step && i < row.length; i += 1) row[i] += prior[i];
  for (let i = step; i < row.length; i += 1) {
    const a = row[i - step];
    const b = prior[i];
    const c = prior[i - step];
    row[i] += nearest(a, b, c);
  }
}

function nearest(a: number, b: number, c: number): number {
  const pa = b > c ? b - c : c - b;
  const pb = a > c ? a - c : c - a;
  const p = a + b - c - c;
  const pc = p < 0 ? -p : p;
  if (pa <= pb && pa <= pc) return a;
  return pb <= pc ? b : c;
}

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
  /** What is doubtful about the file. */
  readonly complaints: ReadonlySet<string>;
  /** Contents of the IDAT chunks in order; views, nothing is copied. */
  readonly data: readonly Uint8Array[];
}

const GREY = 0;
const RGB = 2;
const PALETTE = 3;
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
  const complaints = new Set<string>();
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
      case 'eXIf':
        // Some programs turn such a picture, others show it as it is written.
        if (readTiffTags(body, '').orientation !== 1) complaints.add('Exif says that it lies turned; read as written');
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
  return { ...header, palette, transparency, resolution, pixelAspect, complaints, data };
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

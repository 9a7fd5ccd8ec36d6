import { createInflate, type ZlibOptions } from 'node:zlib';
import { damaged } from '../refusals.js';
import { greyRowBuffer, type PixelSource, type RowSink } from '../source.js';
import { GREY, GREY_ALPHA, PALETTE, type PngFile, parsePng, RGB } from './png-chunks.js';
import { bitMeaning, hasOpacity, type ToLight, toLight, toOpacity } from './png-samples.js';

/** Bytes unpacked at a time: large enough to make steps cheap, small enough to stay in the cache. */
const CHUNK_BYTES = 1 << 18;
/** Chunks that may wait, so that unpacking, which has a thread of its own, runs on while rows are looked at. */
const READ_AHEAD = 4;
/** Deflate can't pack tighter than this: 258 bytes in 2 bits. */
const MAX_RATIO = 1032;

/**
 * Opens a PNG. Rows are unpacked while they are read, so that memory does not grow with the
 * image.
 *
 * @returns `interlaced` says that the rows can't be had from here
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_TOO_LARGE
 */
export function openPng(bytes: Uint8Array, file: string | undefined): PixelSource & { readonly interlaced: boolean } {
  const png = parsePng(bytes, file);
  const channels =
    png.colourType === GREY || png.colourType === PALETTE
      ? 1
      : png.colourType === GREY_ALPHA
        ? 2
        : png.colourType === RGB
          ? 3
          : 4;
  const rowBytes = Math.ceil((png.width * png.bitDepth * channels) / 8);
  const packed = png.data.reduce((sum, part) => sum + part.length, 0);
  if (!png.interlaced && packed * MAX_RATIO < rowBytes * png.height)
    throw damaged(file, `the PNG file holds too little data for ${png.width} x ${png.height} pixels.`);
  const { width, height, resolution, pixelAspect, interlaced } = png;
  const step = Math.max(1, (channels * png.bitDepth) >> 3);
  const sender = (drawing: Drawing) => (sink: RowSink) => sendRows(png, rowBytes, step, drawing, sink, file);
  return {
    width,
    height,
    resolution,
    pixelAspect,
    interlaced,
    isBits: bitMeaning(png) !== undefined,
    sendRows: sender({ meaning: bitMeaning(png), convert: toLight(png) }),
    ...(hasOpacity(png)
      ? { opacity: { width, height, isBits: false, sendRows: sender({ meaning: undefined, convert: toOpacity(png) }) } }
      : {}),
  };
}

/** How a row's bytes become brightness: as bits, converted, or as they are. */
interface Drawing {
  readonly meaning: ReturnType<typeof bitMeaning>;
  readonly convert: ToLight | undefined;
}

async function sendRows(
  png: PngFile,
  rowBytes: number,
  step: number,
  drawing: Drawing,
  sink: RowSink,
  file: string | undefined,
): Promise<void> {
  const take = rowTaker(png, rowBytes, step, drawing, sink, file);
  const inflate = createInflate({ chunkSize: CHUNK_BYTES, highWaterMark: READ_AHEAD * CHUNK_BYTES } as ZlibOptions);
  try {
    feed(inflate, png.data);
    for await (const chunk of inflate) if (take(chunk as Uint8Array)) return;
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

function feed(inflate: ReturnType<typeof createInflate>, data: readonly Uint8Array[]): void {
  for (const part of data) inflate.write(part);
  inflate.end();
}

/** A function that takes unpacked bytes as they come and says when the last row has been sent. */
function rowTaker(
  png: PngFile,
  rowBytes: number,
  step: number,
  { meaning, convert }: Drawing,
  sink: RowSink,
  file: string | undefined,
): (chunk: Uint8Array) => boolean {
  const length = rowBytes + 1;
  let current = paddedRow(rowBytes);
  let prior = paddedRow(rowBytes);
  const zeros = paddedRow(rowBytes);
  const out = convert ? greyRowBuffer(png.width) : undefined;
  let filter = 0;
  let have = 0;
  let rows = 0;

  function send(): boolean {
    const alike = rows > 0 && sameIf(filter)?.equals(current);
    if (alike) {
      sink.repeatRow();
      return isLast();
    }
    const row = current.subarray(0, rowBytes);
    if (filter !== 0 && !unfilter(filter, row, prior.subarray(0, rowBytes), step))
      throw damaged(file, `row ${rows + 1} of the PNG file has an unknown filter, ${filter}.`);
    if (meaning) sink.addBitRow(meaning === 'light' ? row : inverted(row));
    else if (convert && out) {
      convert(row, out);
      sink.addGreyRow(out);
    } else sink.addGreyRow(current);
    [current, prior] = [prior, current];
    return isLast();
  }

  /** Counts a row that has been sent. */
  function isLast(): boolean {
    rows += 1;
    return rows === png.height;
  }

  /** What the bytes of a row are when it is the same as the one before; not known for the other filters. */
  function sameIf(rowFilter: number): Buffer | undefined {
    return rowFilter === 0 ? prior : rowFilter === 2 ? zeros : undefined;
  }

  /** Whether the row that starts here, with its filter, is all there and the same as the one before. */
  function repeats(chunk: Uint8Array, at: number): boolean {
    if (rows === 0 || chunk.length - at < length) return false;
    return sameIf(chunk[at])?.compare(chunk, at + 1, at + length, 0, rowBytes) === 0;
  }

  return (chunk) => {
    let at = 0;
    while (at < chunk.length) {
      if (have === 0) {
        if (repeats(chunk, at)) {
          sink.repeatRow();
          at += length;
          if (isLast()) return true;
          continue;
        }
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
        if (send()) return true;
      }
    }
    return false;
  };
}

/** A row in whole words: 32 pixels at 8 bits, so that it may go out as it is. */
function paddedRow(rowBytes: number): Buffer<ArrayBuffer> {
  return Buffer.from(greyRowBuffer(rowBytes).buffer as ArrayBuffer);
}

function inverted(row: Uint8Array): Uint8Array {
  const out = new Uint8Array(row.length);
  for (let i = 0; i < row.length; i += 1) out[i] = ~row[i];
  return out;
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
      if (step === 1) paethBytes(row, prior);
      else paeth(row, prior, step);
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

/** One byte a pixel: most of it is plain, where left, above and above left are equal. */
function paethBytes(row: Uint8Array, prior: Uint8Array): void {
  let a = 0;
  let c = 0;
  for (let i = 0; i < row.length; i += 1) {
    const b = prior[i];
    const v = row[i];
    a = a === b && b === c ? (v + a) & 255 : (v + nearest(a, b, c)) & 255;
    row[i] = a;
    c = b;
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

import { compositeLuma, luma } from '../luma.js';
import { damaged, unsupported } from '../refusals.js';
import { greyRowBuffer, type PixelSource, type RowSink } from '../source.js';
import { BI_RLE4, BI_RLE8, type BmpHeader, parseBmpHeader } from './bmp-header.js';
import { unpackRle } from './bmp-rle.js';

/** Run-length coded images are unpacked whole. */
const MAX_RLE_PIXELS = 3e8;

/**
 * Opens a BMP: 1, 4, 8, 16, 24 or 32 bits, either way up, run-length coded or not.
 *
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE
 */
export function openBmp(bytes: Uint8Array, file: string | undefined): PixelSource {
  const header = parseBmpHeader(bytes, file);
  const { width, height, bits, compression, offset } = header;
  const isRle = compression === BI_RLE4 || compression === BI_RLE8;
  const stride = Math.ceil((width * bits) / 32) * 4;
  if (isRle) {
    if (width * height > MAX_RLE_PIXELS)
      throw unsupported(file, `the BMP file is run-length coded and has ${width} x ${height} pixels.`);
  } else if (offset < 26 || offset + stride * height - (stride - Math.ceil((width * bits) / 8)) > bytes.length) {
    throw damaged(file, `the BMP file is cut off: it holds fewer than ${width} x ${height} pixels.`);
  }
  const levels = header.palette.map(([b, g, r]) => luma(r, g, b));
  const isBits = bits === 1 && levels.length === 2 && levels[0] + levels[1] === 255 && levels[0] % 255 === 0;
  return {
    width,
    height,
    resolution: header.resolution,
    isBits,
    async sendRows(sink) {
      if (isRle) sendRle(bytes, header, levels, sink, file);
      else sendPlain(bytes, header, levels, stride, isBits, sink);
    },
  };
}

function sendRle(
  bytes: Uint8Array,
  { width, height, bits, offset }: BmpHeader,
  levels: readonly number[],
  sink: RowSink,
  file: string | undefined,
): void {
  const pixels = unpackRle(bytes, offset, width, height, bits === 4 ? 4 : 8);
  if (!pixels) throw damaged(file, 'the run-length coded pixels of the BMP file are damaged or cut off.');
  const out = greyRowBuffer(width);
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) out[x] = levels[pixels[y * width + x]] ?? 0;
    sink.addGreyRow(out);
  }
}

function sendPlain(
  bytes: Uint8Array,
  header: BmpHeader,
  levels: readonly number[],
  stride: number,
  isBits: boolean,
  sink: RowSink,
): void {
  const { width, height, bits, offset, topDown } = header;
  const out = greyRowBuffer(width);
  const packed = new Uint8Array(Math.ceil(width / 8));
  const setIsLight = levels[1] === 255;
  const convert = converter(header, levels);
  for (let y = 0; y < height; y += 1) {
    const at = offset + (topDown ? y : height - 1 - y) * stride;
    const row = bytes.subarray(at, Math.min(at + stride, bytes.length));
    if (isBits) {
      for (let i = 0; i < packed.length; i += 1) packed[i] = setIsLight ? row[i] : ~row[i];
      sink.addBitRow(packed);
    } else {
      convert(row, out, width, bits);
      sink.addGreyRow(out);
    }
  }
}

type Convert = (row: Uint8Array, out: Uint8Array, width: number, bits: number) => void;

function converter({ bits, masks }: BmpHeader, levels: readonly number[]): Convert {
  if (bits <= 8) {
    const mask = (1 << bits) - 1;
    return (row, out, width) => {
      for (let x = 0; x < width; x += 1) {
        const bit = x * bits;
        out[x] = levels[(row[bit >> 3] >> (8 - bits - (bit & 7))) & mask] ?? 0;
      }
    };
  }
  if (bits === 24)
    return (row, out, width) => {
      for (let x = 0, i = 0; x < width; x += 1, i += 3) out[x] = luma(row[i + 2], row[i + 1], row[i]);
    };
  const [r, g, b, a] = (masks ?? [0, 0, 0, 0]).map(channel);
  return (row, out, width) => {
    for (let x = 0; x < width; x += 1) {
      const v =
        bits === 16
          ? row[2 * x] | (row[2 * x + 1] << 8)
          : (row[4 * x] | (row[4 * x + 1] << 8) | (row[4 * x + 2] << 16) | (row[4 * x + 3] << 24)) >>> 0;
      out[x] = compositeLuma(r(v, 0), g(v, 0), b(v, 0), a(v, 255));
    }
  };
}

/** A function that takes a masked channel out of a pixel, as 0 to 255. */
function channel(mask: number): (value: number, missing: number) => number {
  if (mask === 0) return (_, missing) => missing;
  const shift = 31 - Math.clz32(mask & -mask);
  const most = mask >>> shift;
  return (value) => Math.round((((value & mask) >>> shift) * 255) / most);
}

import {
  checkPixelCount,
  compositeLuma,
  damaged,
  luma,
  type PixelSource,
  type StatedResolution,
  unsupported,
} from '../source.js';
import { CoverageMap } from '../trace/coverage-map.js';

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
  return {
    width,
    height,
    resolution: header.resolution,
    async decode() {
      return isRle
        ? rowsOf(unpackRle(bytes, header, file), { ...header, bits: 8, offset: 0 }, width)
        : rowsOf(bytes, header, stride);
    },
  };
}

function rowsOf(bytes: Uint8Array, header: BmpHeader, stride: number): CoverageMap {
  const { width, height, offset, topDown } = header;
  const map = new CoverageMap(width, height);
  const out = new Uint8Array(width);
  const convert = converter(header);
  for (let y = 0; y < height; y += 1) {
    const at = offset + (topDown ? y : height - 1 - y) * stride;
    convert(bytes.subarray(at, at + stride), out);
    map.add(out);
  }
  return map;
}

function converter({ bits, masks, palette }: BmpHeader): (row: Uint8Array, out: Uint8Array) => void {
  if (bits <= 8) {
    const levels = palette.map(([b, g, r]) => luma(r, g, b));
    const mask = (1 << bits) - 1;
    return (row, out) => {
      for (let x = 0; x < out.length; x += 1) {
        const bit = x * bits;
        out[x] = levels[(row[bit >> 3] >> (8 - bits - (bit & 7))) & mask] ?? 0;
      }
    };
  }
  if (bits === 24)
    return (row, out) => {
      for (let x = 0, i = 0; x < out.length; x += 1, i += 3) out[x] = luma(row[i + 2], row[i + 1], row[i]);
    };
  const [r, g, b, a] = (masks ?? [0, 0, 0, 0]).map(channel);
  return (row, out) => {
    for (let x = 0; x < out.length; x += 1) {
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

/**
 * Unpacks run-length coded BMP pixels into one byte a pixel, rows in the order of the file.
 *
 * @throws {InputError} IMAGE_DAMAGED when the code runs out of the image or of the file
 * @remarks Source: Windows GDI reference, "Bitmap Compression" (BI_RLE4, BI_RLE8), from memory.
 */
function unpackRle(
  bytes: Uint8Array,
  { width, height, bits, offset }: BmpHeader,
  file: string | undefined,
): Uint8Array {
  const out = new Uint8Array(width * height);
  let at = offset;
  let x = 0;
  let y = 0;
  while (at + 1 < bytes.length) {
    const count = bytes[at];
    const code = bytes[at + 1];
    at += 2;
    if (count > 0) {
      if (y >= height || x + count > width) break;
      const row = y * width + x;
      if (bits === 8) out.fill(code, row, row + count);
      else for (let k = 0; k < count; k += 1) out[row + k] = k & 1 ? code & 15 : code >> 4;
      x += count;
    } else if (code === 0) {
      x = 0;
      y += 1;
    } else if (code === 1) {
      return out;
    } else if (code === 2) {
      if (at + 1 >= bytes.length) break;
      x += bytes[at];
      y += bytes[at + 1];
      at += 2;
      if (x > width || y > height) break;
    } else {
      const size = bits === 8 ? code : (code + 1) >> 1;
      if (at + size > bytes.length || y >= height || x + code > width) break;
      const row = y * width + x;
      for (let k = 0; k < code; k += 1) {
        const byte = bytes[at + (bits === 8 ? k : k >> 1)];
        out[row + k] = bits === 8 ? byte : k & 1 ? byte & 15 : byte >> 4;
      }
      x += code;
      at += size + (size & 1);
    }
  }
  throw damaged(file, 'the run-length coded pixels of the BMP file are damaged or cut off.');
}

export interface BmpHeader {
  readonly width: number;
  readonly height: number;
  readonly topDown: boolean;
  readonly bits: number;
  readonly compression: number;
  /** Where the pixels begin. */
  readonly offset: number;
  /** Blue, green, red a colour. */
  readonly palette: readonly (readonly [number, number, number])[];
  /** Bit masks of red, green, blue and alpha; only for 16 and 32 bits. */
  readonly masks: readonly [number, number, number, number] | undefined;
  readonly resolution: StatedResolution | undefined;
}

const BI_RGB = 0;
const BI_RLE8 = 1;
const BI_RLE4 = 2;
const BI_BITFIELDS = 3;
const BI_ALPHABITFIELDS = 6;
const FILE_HEADER = 14;
const CORE_HEADER = 12;

/**
 * Reads a BMP file's headers, from the 12-byte one on.
 *
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE
 * @remarks Source: Windows GDI reference, BITMAPFILEHEADER, BITMAPCOREHEADER, BITMAPINFOHEADER, BITMAPV4HEADER (fields
 * from memory); biXPelsPerMeter and biYPelsPerMeter are pixels per metre, 0 when not stated.
 */
function parseBmpHeader(bytes: Uint8Array, file: string | undefined): BmpHeader {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const cut = (): never => {
    throw damaged(file, 'the BMP file is cut off within its header.');
  };
  if (bytes.length < FILE_HEADER + CORE_HEADER) cut();
  const offset = view.getUint32(10, true);
  const size = view.getUint32(FILE_HEADER, true);
  if (bytes.length < FILE_HEADER + size) cut();
  const isCore = size === CORE_HEADER;
  if (!isCore && size < 40) throw damaged(file, `the BMP header has ${size} bytes, which no known header has.`);
  const [width, signedHeight, bits] = isCore
    ? [view.getUint16(18, true), view.getUint16(20, true), view.getUint16(24, true)]
    : [view.getInt32(18, true), view.getInt32(22, true), view.getUint16(28, true)];
  const [compression, perX, perY, used] = isCore
    ? [BI_RGB, 0, 0, 0]
    : [view.getUint32(30, true), view.getInt32(38, true), view.getInt32(42, true), view.getUint32(46, true)];
  checkPixelCount(width, Math.abs(signedHeight), file);
  const separateMasks = size === 40 && (compression === BI_BITFIELDS || compression === BI_ALPHABITFIELDS);
  const maskBytes = separateMasks ? (compression === BI_BITFIELDS ? 12 : 16) : 0;
  if (FILE_HEADER + size + maskBytes > bytes.length) cut();
  const colours = bits <= 8 ? Math.min(used || 1 << bits, 1 << bits) : 0;
  const header = {
    width,
    height: Math.abs(signedHeight),
    topDown: signedHeight < 0,
    bits,
    compression,
    offset,
    palette: readPalette(bytes, FILE_HEADER + size + maskBytes, isCore ? 3 : 4, colours, offset),
    masks: isCore ? undefined : readMasks(view, size, bits, compression),
    resolution:
      perX > 0 && perY > 0
        ? { perMmX: perX / 1000, perMmY: perY / 1000, saidBy: 'BMP header, pixels per metre' }
        : undefined,
  };
  return checked(header, file);
}

function checked(header: BmpHeader, file: string | undefined): BmpHeader {
  const { bits, compression, palette } = header;
  const fits =
    (compression === BI_RGB && [1, 4, 8, 16, 24, 32].includes(bits)) ||
    (compression === BI_RLE8 && bits === 8 && !header.topDown) ||
    (compression === BI_RLE4 && bits === 4 && !header.topDown) ||
    ((compression === BI_BITFIELDS || compression === BI_ALPHABITFIELDS) && (bits === 16 || bits === 32));
  if (!fits)
    throw unsupported(file, `the BMP file has ${bits} bits a pixel and compression ${compression}, which is not read.`);
  if (bits <= 8 && palette.length === 0) throw damaged(file, 'the BMP file has no colour table.');
  return header;
}

function readPalette(
  bytes: Uint8Array,
  at: number,
  entryBytes: 3 | 4,
  count: number,
  offset: number,
): [number, number, number][] {
  const end = Math.min(bytes.length, offset > at ? offset : bytes.length);
  const there = Math.min(count, Math.max(0, Math.floor((end - at) / entryBytes)));
  return Array.from({ length: there }, (_, i) => {
    const p = at + i * entryBytes;
    return [bytes[p], bytes[p + 1], bytes[p + 2]];
  });
}

function readMasks(view: DataView, size: number, bits: number, compression: number): BmpHeader['masks'] {
  if (bits !== 16 && bits !== 32) return undefined;
  if (compression === BI_RGB) return bits === 16 ? [0x7c00, 0x3e0, 0x1f, 0] : [0xff0000, 0xff00, 0xff, 0];
  const mask = (i: number): number => view.getUint32(FILE_HEADER + 40 + i * 4, true);
  const hasAlpha = size >= 56 || compression === BI_ALPHABITFIELDS;
  return [mask(0), mask(1), mask(2), hasAlpha ? mask(3) : 0];
}

import { checkPixelCount, damaged, unsupported } from '../refusals.js';
import type { StatedResolution } from '../source.js';

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
export const BI_RLE8 = 1;
export const BI_RLE4 = 2;
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
export function parseBmpHeader(bytes: Uint8Array, file: string | undefined): BmpHeader {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const cut = (): never => {
    throw damaged(file, 'the BMP file is cut off within its header.');
  };
  if (bytes.length < FILE_HEADER + CORE_HEADER) cut();
  const offset = view.getUint32(10, true);
  const size = view.getUint32(FILE_HEADER, true);
  if (bytes.length < FILE_HEADER + size) cut();
  if (size === CORE_HEADER) {
    const [width, height, bits] = [view.getUint16(18, true), view.getUint16(20, true), view.getUint16(24, true)];
    checkPixelCount(width, height, file);
    const palette = readPalette(bytes, FILE_HEADER + size, 3, bits <= 8 ? 1 << bits : 0, offset);
    return checked(
      {
        width,
        height,
        topDown: false,
        bits,
        compression: BI_RGB,
        offset,
        palette,
        masks: undefined,
        resolution: undefined,
      },
      file,
    );
  }
  if (size < 40) throw damaged(file, `the BMP header has ${size} bytes, which no known header has.`);
  const width = view.getInt32(18, true);
  const signedHeight = view.getInt32(22, true);
  const bits = view.getUint16(28, true);
  const compression = view.getUint32(30, true);
  checkPixelCount(width, Math.abs(signedHeight), file);
  const [perX, perY] = [view.getInt32(38, true), view.getInt32(42, true)];
  const used = view.getUint32(46, true);
  const separateMasks = size === 40 && (compression === BI_BITFIELDS || compression === BI_ALPHABITFIELDS);
  const maskBytes = separateMasks ? (compression === BI_BITFIELDS ? 12 : 16) : 0;
  if (FILE_HEADER + size + maskBytes > bytes.length) cut();
  const colours = bits <= 8 ? Math.min(used || 1 << bits, 1 << bits) : 0;
  return checked(
    {
      width,
      height: Math.abs(signedHeight),
      topDown: signedHeight < 0,
      bits,
      compression,
      offset,
      palette: readPalette(bytes, FILE_HEADER + size + maskBytes, 4, colours, offset),
      masks: readMasks(view, size, bits, compression),
      resolution:
        perX > 0 && perY > 0
          ? { perMmX: perX / 1000, perMmY: perY / 1000, saidBy: 'BMP header, pixels per metre' }
          : undefined,
    },
    file,
  );
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

import { inflateSync } from 'node:zlib';
import type { ArtworkFormat } from '../../types.js';
import type { StatedResolution } from '../source.js';

/** Bytes of a value by TIFF's type code: BYTE, ASCII, SHORT, LONG, RATIONAL, SBYTE, UNDEFINED, SSHORT, SLONG, SRATIONAL, … */
const TYPE_BYTES = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8];
/** More values than any picture has strips. */
const MOST_VALUES = 1e6;

/**
 * Reads the first directory of a TIFF or BigTIFF file, or of an Exif block, which is one.
 *
 * @returns the values of a tag, rationals as quotients; none when it is missing or can't be read
 * @remarks Source: TIFF 6.0 (3 June 1992), pp. 13-16. BigTIFF as libtiff's page describes it (from memory): version 43,
 * 8-byte offsets and counts, entries of 20 bytes.
 */
function tiffNumbers(bytes: Uint8Array): (tag: number) => readonly number[] {
  const places = new Map<number, { type: number; count: number; at: number }>();
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = bytes[0] === 0x49;
  const version = bytes.length < 16 ? 0 : view.getUint16(2, little);
  const big = version === 43;
  const word = (at: number): number => (big ? Number(view.getBigUint64(at, little)) : view.getUint32(at, little));
  const start = version === 42 || big ? word(big ? 8 : 4) : bytes.length;
  const [entries, entryBytes, roomBytes] = big ? [start + 8, 20, 8] : [start + 2, 12, 4];
  const count = entries > bytes.length ? 0 : big ? word(start) : view.getUint16(start, little);
  for (let at = entries; at + entryBytes <= bytes.length && at < entries + count * entryBytes; at += entryBytes) {
    const [type, values, inside] = [view.getUint16(at + 2, little), word(at + 4), at + entryBytes - roomBytes];
    const sizeBytes = values * (TYPE_BYTES[type] ?? 0);
    const place = sizeBytes <= roomBytes ? inside : word(inside);
    if (place + sizeBytes <= bytes.length && values <= MOST_VALUES)
      places.set(view.getUint16(at, little), { type, count: values, at: place });
  }
  const read = (type: number, at: number): number => {
    if (type === 1 || type === 7) return view.getUint8(at);
    if (type === 3) return view.getUint16(at, little);
    if (type === 4 || type === 13) return view.getUint32(at, little);
    if (type === 16 || type === 18) return Number(view.getBigUint64(at, little));
    const below = type === 5 ? view.getUint32(at + 4, little) : 0;
    return below === 0 ? 0 : view.getUint32(at, little) / below;
  };
  return (tag) => {
    const { type, count: values, at } = places.get(tag) ?? { type: 0, count: 0, at: 0 };
    return Array.from({ length: values }, (_, i) => read(type, at + i * (TYPE_BYTES[type] ?? 0)));
  };
}

const X_RESOLUTION = 282;
const Y_RESOLUTION = 283;
const RESOLUTION_UNIT = 296;
const ORIENTATION = 274;
const INCH = 2;
const CENTIMETRE = 3;

export interface TiffTags {
  readonly resolution: StatedResolution | undefined;
  /** Width of a pixel relative to its height, where no unit is given. */
  readonly pixelAspect: number | undefined;
  /** 1 to 8; 1 is upright. */
  readonly orientation: number;
}

/**
 * Reads resolution and orientation from the first directory of a TIFF or BigTIFF file, or of an Exif block.
 *
 * @remarks Source: TIFF 6.0 (3 June 1992), pp. 19, 36, 38: tags 282, 283 (RATIONAL), 296 (1 none, 2 inch, the default,
 * 3 centimetre), 274.
 */
export function readTiffTags(bytes: Uint8Array, saidBy: string): TiffTags {
  const numbers = tiffNumbers(bytes);
  const first = (tag: number, otherwise: number): number => numbers(tag)[0] ?? otherwise;
  const [x, y, unit, turn] = [
    first(X_RESOLUTION, 0),
    first(Y_RESOLUTION, 0),
    first(RESOLUTION_UNIT, INCH),
    first(ORIENTATION, 1),
  ];
  const orientation = turn >= 1 && turn <= 8 ? turn : 1;
  if (!(x > 0 && y > 0)) return { resolution: undefined, pixelAspect: undefined, orientation };
  if (unit !== INCH && unit !== CENTIMETRE) return { resolution: undefined, pixelAspect: x / y, orientation };
  const perMm = unit === INCH ? 25.4 : 10;
  return { resolution: { perMmX: x / perMm, perMmY: y / perMm, saidBy }, pixelAspect: undefined, orientation };
}

/** Tags of TIFF 6.0 (3 June 1992), and those of tiles (section 15). */
const COMPRESSION = 259;
const OFFSETS = [273, 324];
const COUNTS = [279, 325];
const SAMPLES = 277;
const PLANES = 284;
const MEANING = 262;
/** Of 262: 0 and 1 are shades of grey, more are colours. */
const BLACK_IS_ZERO = 1;
const DEFLATE: readonly number[] = [8, 32946];
const FILL_ORDER = 266;

/** Not where each byte lies the other way round, which the decoder puts right. */
const isDeflated = (numbers: ReturnType<typeof tiffNumbers>): boolean =>
  DEFLATE.includes(numbers(COMPRESSION)[0] ?? 0) && numbers(FILL_ORDER)[0] !== 2;

/** Whether a changed byte in a file's picture shows: PNG has a sum over each chunk, deflate in TIFF one over each strip. */
export function hasChecksum(bytes: Uint8Array, format: ArtworkFormat): boolean {
  return format === 'png' || (format === 'tiff' && isDeflated(tiffNumbers(bytes)));
}

/** Whether shades of grey and what belongs to them lie in planes of their own, of which the decoder makes stripes. */
export function hasGreyPlanes(bytes: Uint8Array): boolean {
  const numbers = tiffNumbers(bytes);
  const [samples, planes, meaning] = [SAMPLES, PLANES, MEANING].map((tag) => numbers(tag)[0] ?? 1);
  return samples > 1 && planes === 2 && meaning <= BLACK_IS_ZERO;
}

/** Whether all strips or tiles of a TIFF file that are deflated have the checksum that they state; the decoder does not look. */
export function isIntact(bytes: Uint8Array): boolean {
  const numbers = tiffNumbers(bytes);
  if (!isDeflated(numbers)) return true;
  const lengths = COUNTS.flatMap(numbers);
  try {
    OFFSETS.flatMap(numbers).forEach((at, i) => {
      inflateSync(bytes.subarray(at, at + (lengths[i] ?? 0)));
    });
    return true;
  } catch {
    return false;
  }
}

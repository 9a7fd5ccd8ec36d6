import { inflateSync } from 'node:zlib';
import type { ArtworkFormat } from '../../types.js';

/** Bytes of a value by TIFF's type code: BYTE, ASCII, SHORT, LONG, RATIONAL, SBYTE, UNDEFINED, SSHORT, SLONG, SRATIONAL, … */
const TYPE_BYTES = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4, 0, 0, 8, 8, 8];
/** More values than any picture has strips. */
const MOST_VALUES = 1e6;

/** The tags of one picture in a TIFF file. */
export interface TiffDirectory {
  /** Values of a tag, rationals as quotients; empty when it is missing or can't be read. */
  numbers(tag: number): readonly number[];
  /** The directory, or values that it points to, lie beyond the end of the file. */
  readonly isCut: boolean;
}

/**
 * Reads the first directory of a TIFF or BigTIFF file, or of an Exif block, which is one.
 *
 * @remarks Source: TIFF 6.0 (3 June 1992), pp. 13-16. BigTIFF as libtiff's page describes it (from memory): version 43,
 * 8-byte offsets and counts, entries of 20 bytes.
 */
export function tiffDirectory(bytes: Uint8Array): TiffDirectory | undefined {
  if (bytes.length < 16) return undefined;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = bytes[0] === 0x49;
  const version = view.getUint16(2, little);
  if (version !== 42 && version !== 43) return undefined;
  const big = version === 43;
  const word = (at: number): number => (big ? Number(view.getBigUint64(at, little)) : view.getUint32(at, little));
  const start = word(big ? 8 : 4);
  const [entries, entryBytes, roomBytes] = big ? [start + 8, 20, 8] : [start + 2, 12, 4];
  const places = new Map<number, { type: number; count: number; at: number }>();
  if (entries > bytes.length) return { numbers: () => [], isCut: true };
  const count = big ? word(start) : view.getUint16(start, little);
  let isCut = entries + count * entryBytes > bytes.length;
  for (let at = entries; at + entryBytes <= bytes.length && at < entries + count * entryBytes; at += entryBytes) {
    const [type, values, inside] = [view.getUint16(at + 2, little), word(at + 4), at + entryBytes - roomBytes];
    const sizeBytes = values * (TYPE_BYTES[type] ?? 0);
    const place = sizeBytes <= roomBytes ? inside : word(inside);
    if (place + sizeBytes > bytes.length) isCut = true;
    else if (values <= MOST_VALUES) places.set(view.getUint16(at, little), { type, count: values, at: place });
  }
  const read = (type: number, at: number): number => {
    if (type === 1 || type === 7) return view.getUint8(at);
    if (type === 3) return view.getUint16(at, little);
    if (type === 4 || type === 13) return view.getUint32(at, little);
    if (type === 16 || type === 18) return Number(view.getBigUint64(at, little));
    const below = type === 5 ? view.getUint32(at + 4, little) : 0;
    return below === 0 ? 0 : view.getUint32(at, little) / below;
  };
  return {
    numbers(tag) {
      const found = places.get(tag);
      if (!found) return [];
      const step = TYPE_BYTES[found.type] ?? 0;
      return Array.from({ length: found.count }, (_, i) => read(found.type, found.at + i * step));
    },
    isCut,
  };
}

/** Tags of TIFF 6.0 (3 June 1992), and those of tiles (section 15). */
const WIDTH = 256;
const HEIGHT = 257;
const BITS = 258;
const COMPRESSION = 259;
const PHOTOMETRIC = 262;
const SAMPLES = 277;
const ROWS_PER_STRIP = 278;
const PLANAR = 284;
const STRIPS = [273, 279] as const;
const TILES = [324, 325] as const;
const TILE_WIDTH = 322;
const TILE_HEIGHT = 323;
const DEFLATE: readonly number[] = [8, 32946];
/** Its colour samples are fewer than its pixels. */
const YCBCR = 6;

/** Whether a changed byte in a file's picture shows: PNG has a sum over each chunk, deflate in TIFF one over each strip. */
export function hasChecksum(bytes: Uint8Array, format: ArtworkFormat): boolean {
  if (format !== 'tiff') return format === 'png';
  return DEFLATE.includes(tiffDirectory(bytes)?.numbers(COMPRESSION)[0] ?? 0);
}

/**
 * What is missing in a TIFF file, in words: decoders fill up what they do not find.
 *
 * @returns undefined for a file whose directory, strips and tiles are all there
 */
export function missingInTiff(bytes: Uint8Array): string | undefined {
  const directory = tiffDirectory(bytes);
  if (!directory) return undefined;
  if (directory.isCut) return 'its directory lies beyond its end';
  const first = (tag: number, otherwise: number): number => directory.numbers(tag)[0] ?? otherwise;
  const isTiled = directory.numbers(TILES[0]).length > 0;
  const [offsets, counts] = (isTiled ? TILES : STRIPS).map((tag) => directory.numbers(tag));
  const kind = isTiled ? 'tile' : 'strip';
  if (offsets.length === 0) return `it names no ${kind}s`;
  const [width, height] = [first(WIDTH, 0), first(HEIGHT, 0)];
  const across = isTiled ? first(TILE_WIDTH, width) : width;
  const down = isTiled ? first(TILE_HEIGHT, height) : Math.min(first(ROWS_PER_STRIP, height), height);
  const planes = first(PLANAR, 1) === 2 ? first(SAMPLES, 1) : 1;
  const wanted = Math.ceil(width / across) * Math.ceil(height / down) * planes;
  if (offsets.length < wanted) return `it has ${offsets.length} ${kind}s of ${wanted}`;
  const packing = first(COMPRESSION, 1);
  const plain = packing === 1 && first(PHOTOMETRIC, 0) !== YCBCR;
  const rowBytes = Math.ceil((across * first(BITS, 1) * (planes > 1 ? 1 : first(SAMPLES, 1))) / 8);
  for (let i = 0; i < wanted; i += 1) {
    const rows = isTiled ? down : Math.min(down, height - (i % Math.ceil(height / down)) * down);
    // A few old programs leave out how long a strip is; where nothing is packed it can be told.
    const length = counts[i] ?? (plain ? rowBytes * rows : 0);
    if (offsets[i] + length > bytes.length) return `${kind} ${i + 1} of ${wanted} lies beyond its end`;
    if (plain && length < rowBytes * rows) return `${kind} ${i + 1} of ${wanted} is too short`;
    if (DEFLATE.includes(packing) && !inflates(bytes.subarray(offsets[i], offsets[i] + length)))
      return `${kind} ${i + 1} of ${wanted} is damaged`;
  }
  return undefined;
}

/** Whether packed bytes unpack to what their checksum says; the decoder does not look at it. */
function inflates(packed: Uint8Array): boolean {
  try {
    inflateSync(packed);
    return true;
  } catch {
    return false;
  }
}

/** Whether a JPEG file's picture goes on to its end marker (ITU-T T.81, B.1.1.3): what comes first is parted from it. */
export function jpegHasEnd(bytes: Uint8Array): boolean {
  let at = 2;
  // Segments before the picture may hold a smaller one with an end of its own.
  while (at + 4 <= bytes.length && bytes[at] === 0xff && bytes[at + 1] !== 0xda) {
    at += bytes[at + 1] === 0xff ? 1 : 2 + ((bytes[at + 2] << 8) | bytes[at + 3]);
  }
  return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).indexOf(Buffer.from([0xff, 0xd9]), at) >= 0;
}

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

import type { StatedResolution } from '../source.js';

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

/** Where the parts of a directory lie: BigTIFF has the same ones, of 8 bytes where TIFF has 4. */
interface Layout {
  readonly little: boolean;
  readonly big: boolean;
}

/**
 * Reads resolution and orientation from the first directory of a TIFF or BigTIFF file, or of an Exif block, which is one.
 *
 * @remarks Source: TIFF 6.0 (3 June 1992), pp. 13-19, 36, 38: tags 282, 283 (RATIONAL), 296 (1 none, 2 inch, the
 * default, 3 centimetre), 274. BigTIFF as libtiff's page describes it (from memory): version 43, 8-byte offsets and
 * counts, entries of 20 bytes.
 */
export function readTiffTags(bytes: Uint8Array, saidBy: string): TiffTags {
  const none: TiffTags = { resolution: undefined, pixelAspect: undefined, orientation: 1 };
  if (bytes.length < 16) return none;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = bytes[0] === 0x49;
  const version = view.getUint16(2, little);
  if (version !== 42 && version !== 43) return none;
  const layout: Layout = { little, big: version === 43 };
  const start = layout.big ? wordAt(view, 8, layout) : view.getUint32(4, little);
  const [entries, entryBytes] = layout.big ? [start + 8, 20] : [start + 2, 12];
  if (entries > bytes.length) return none;
  const count = layout.big ? wordAt(view, start, layout) : view.getUint16(start, little);
  let [x, y, unit, orientation] = [0, 0, INCH, 1];
  for (let i = 0; i < count; i += 1) {
    const at = entries + i * entryBytes;
    if (at + entryBytes > bytes.length) break;
    const tag = view.getUint16(at, little);
    const value = at + entryBytes - (layout.big ? 8 : 4);
    if (tag === X_RESOLUTION) x = rational(view, at, layout);
    else if (tag === Y_RESOLUTION) y = rational(view, at, layout);
    else if (tag === RESOLUTION_UNIT) unit = view.getUint16(value, little);
    else if (tag === ORIENTATION) orientation = view.getUint16(value, little);
  }
  if (!(orientation >= 1 && orientation <= 8)) orientation = 1;
  if (!(x > 0 && y > 0)) return { ...none, orientation };
  if (unit !== INCH && unit !== CENTIMETRE) return { resolution: undefined, pixelAspect: x / y, orientation };
  const perMm = unit === INCH ? 25.4 : 10;
  return { resolution: { perMmX: x / perMm, perMmY: y / perMm, saidBy }, pixelAspect: undefined, orientation };
}

/** The 8 bytes of a rational fit into an entry of BigTIFF; in TIFF they lie elsewhere. */
function rational(view: DataView, at: number, layout: Layout): number {
  const { little, big } = layout;
  const place = big ? at + 12 : view.getUint32(at + 8, little);
  if (view.getUint16(at + 2, little) !== 5 || place + 8 > view.byteLength) return 0;
  const below = view.getUint32(place + 4, little);
  return below === 0 ? 0 : view.getUint32(place, little) / below;
}

/** A number of 8 bytes. */
const wordAt = (view: DataView, at: number, { little }: Layout): number => Number(view.getBigUint64(at, little));

import type { StatedResolution } from './source.js';

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
 * Reads resolution and orientation from the first directory of a TIFF file, or of an Exif block, which is one.
 * BigTIFF is not looked into.
 *
 * @remarks Source: TIFF 6.0 (3 June 1992), pp. 13-19, 36, 38: tags 282, 283 (RATIONAL), 296 (1 none, 2 inch, the
 * default, 3 centimetre), 274.
 */
export function readTiffTags(bytes: Uint8Array, saidBy: string): TiffTags {
  const none: TiffTags = { resolution: undefined, pixelAspect: undefined, orientation: 1 };
  if (bytes.length < 14) return none;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = bytes[0] === 0x49;
  if (view.getUint16(2, little) !== 42) return none;
  const start = view.getUint32(4, little);
  if (start + 2 > bytes.length) return none;
  const count = view.getUint16(start, little);
  let [x, y, unit, orientation] = [0, 0, INCH, 1];
  for (let i = 0; i < count; i += 1) {
    const at = start + 2 + i * 12;
    if (at + 12 > bytes.length) break;
    const tag = view.getUint16(at, little);
    if (tag === X_RESOLUTION) x = rational(view, at, little);
    else if (tag === Y_RESOLUTION) y = rational(view, at, little);
    else if (tag === RESOLUTION_UNIT) unit = view.getUint16(at + 8, little);
    else if (tag === ORIENTATION) orientation = view.getUint16(at + 8, little);
  }
  if (!(orientation >= 1 && orientation <= 8)) orientation = 1;
  if (!(x > 0 && y > 0)) return { ...none, orientation };
  if (unit !== INCH && unit !== CENTIMETRE) return { resolution: undefined, pixelAspect: x / y, orientation };
  const perMm = unit === INCH ? 25.4 : 10;
  return { resolution: { perMmX: x / perMm, perMmY: y / perMm, saidBy }, pixelAspect: undefined, orientation };
}

function rational(view: DataView, at: number, little: boolean): number {
  const place = view.getUint32(at + 8, little);
  if (view.getUint16(at + 2, little) !== 5 || place + 8 > view.byteLength) return 0;
  const below = view.getUint32(place + 4, little);
  return below === 0 ? 0 : view.getUint32(place, little) / below;
}

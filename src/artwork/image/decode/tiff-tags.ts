import type { StatedResolution } from '../source.js';
import { tiffDirectory } from './tiff-directory.js';

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
  const directory = tiffDirectory(bytes);
  const first = (tag: number, otherwise: number): number => directory?.numbers(tag)[0] ?? otherwise;
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

import type { Bitmap } from '../../src/dots/bitmap.js';
import { burn, dotsOf, type RasteriseOptions } from '../../src/dots/rasterise.js';
import type { Region } from '../../src/geometry/types.js';

/**
 * Openings as a 1-bit image in memory.
 *
 * @param openings - mm, y up
 * @returns burnt dots are 1; row 0 is the upper one
 */
export function rasterise(openings: readonly Region[], options: RasteriseOptions): Bitmap {
  return burn(dotsOf(openings, options).placed, options.widthPx, options.heightPx);
}

/** Whether a dot is burnt; false outside the canvas. */
export function isBurnt({ width, height, rowBytes, data }: Bitmap, column: number, row: number): boolean {
  if (column < 0 || row < 0 || column >= width || row >= height) return false;
  return ((data[row * rowBytes + (column >> 3)] >> (7 - (column & 7))) & 1) === 1;
}

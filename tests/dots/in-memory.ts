import { dotsOf, type RasteriseOptions } from '../../src/dots/rasterise.js';
import { type Rows, rowsOf } from '../../src/dots/rows.js';
import type { PlacedStamp } from '../../src/dots/stamp.js';
import type { Region } from '../../src/geometry/types.js';

/** A 1-bit image in memory. */
type Bitmap = Rows & { readonly data: Uint8Array };

/** Burns stamps onto an empty canvas; burnt dots are 1. */
export function burn(placed: readonly PlacedStamp[], widthPx: number, lines: number): Bitmap {
  const rows = rowsOf(placed, { widthPx, lines, rowsPerLine: 1, pitch: { x: 1, y: 1 } }, true);
  const data = new Uint8Array(rows.rowBytes * lines);
  for (let row = 0; row < lines; row += 1)
    rows.fill(row, data.subarray(row * rows.rowBytes, (row + 1) * rows.rowBytes));
  return { ...rows, data };
}

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

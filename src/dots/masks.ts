import type { PerAxis } from '../geometry/types.js';
import { type PlacedStamp, type Stamp, stampFromRows } from './stamp.js';

/** Dots of a stamp as bytes, row by row. */
export function maskOf({ width, height, rowStart, runs }: Stamp): Uint8Array {
  const mask = new Uint8Array(width * height);
  for (let row = 0; row < height; row += 1) {
    for (let k = rowStart[row]; k < rowStart[row + 1]; k += 2)
      mask.fill(1, row * width + runs[k], row * width + runs[k + 1]);
  }
  return mask;
}

/** Runs of the ones in a mask. */
export function stampFromMask(mask: Uint8Array, columns: number, rows: number): ReturnType<typeof stampFromRows> {
  const list: number[][] = [];
  for (let row = 0; row < rows; row += 1) {
    const runs: number[] = [];
    const base = row * columns;
    for (let column = 0; column < columns; column += 1) {
      if (mask[base + column] === 0) continue;
      const start = column;
      while (column < columns && mask[base + column] === 1) column += 1;
      runs.push(start, column);
    }
    list.push(runs);
  }
  return stampFromRows(list);
}

/** A stamp without the dots that another one's would join; unchanged if none would be left. */
export function trimmedFrom(
  placed: PlacedStamp,
  other: PlacedStamp,
  joins: (columnsApart: number, rowsApart: number) => boolean,
  reach: PerAxis,
): PlacedStamp {
  const { stamp, column, row } = placed;
  const { width, height } = stamp;
  const mask = maskOf(stamp);
  const foreign = maskOf(other.stamp);
  const [dx, dy] = [column - other.column, row - other.row];
  const taken = (x: number, y: number): boolean =>
    x >= 0 && y >= 0 && x < other.stamp.width && y < other.stamp.height && foreign[y * other.stamp.width + x] === 1;
  const between = (from: number, to: number, most: number): [number, number] => [Math.max(0, from), Math.min(most, to)];
  const [left, right] = between(-dx - reach.x, other.stamp.width - dx + reach.x, width);
  const [top, bottom] = between(-dy - reach.y, other.stamp.height - dy + reach.y, height);
  for (let y = top; y < bottom; y += 1) {
    for (let x = left; x < right; x += 1) {
      if (mask[y * width + x] === 0) continue;
      for (let v = -reach.y; v <= reach.y; v += 1) {
        for (let u = -reach.x; u <= reach.x; u += 1) {
          if (joins(u, v) && taken(x + dx + u, y + dy + v)) mask[y * width + x] = 0;
        }
      }
    }
  }
  const trimmed = stampFromMask(mask, width, height);
  if (trimmed.stamp.count === 0) return placed;
  return { stamp: trimmed.stamp, column: column + trimmed.column, row: row + trimmed.row };
}

/**
 * Whether a burnt dot sticks out at a corner and can go without anything falling apart, corners counting as joined, or
 * an island growing together with what is around.
 *
 * @param ends - whether the last dot of a thin line may go too
 * @remarks Yokoi's connectivity number for eight neighbours is 1 for such dots (Yokoi, Toriwaki and Fukumura, "An
 * analysis of topological properties of digitized binary pictures using local features", Computer Graphics and Image
 * Processing 4 (1975)).
 */
export function freeCorner(mask: Uint8Array, columns: number, rows: number, dot: number, ends: boolean): boolean {
  const row = Math.floor(dot / columns);
  const column = dot - row * columns;
  const [up, down] = [row > 0, row + 1 < rows];
  const [left, right] = [column > 0, column + 1 < columns];
  // 1 for film, in turn from the right over the upper right; named one by one, because this is asked millions of times.
  const f0 = right && mask[dot + 1] ? 0 : 1;
  const f2 = up && mask[dot - columns] ? 0 : 1;
  const f4 = left && mask[dot - 1] ? 0 : 1;
  const f6 = down && mask[dot + columns] ? 0 : 1;
  if (f0 + f4 === 0 || f2 + f6 === 0) return false;
  const f1 = up && right && mask[dot - columns + 1] ? 0 : 1;
  const f3 = up && left && mask[dot - columns - 1] ? 0 : 1;
  const f5 = down && left && mask[dot + columns - 1] ? 0 : 1;
  const f7 = down && right && mask[dot + columns + 1] ? 0 : 1;
  if (!ends && f0 + f1 + f2 + f3 + f4 + f5 + f6 + f7 > 6) return false;
  return f0 - f0 * f1 * f2 + f2 - f2 * f3 * f4 + f4 - f4 * f5 * f6 + f6 - f6 * f7 * f0 === 1;
}

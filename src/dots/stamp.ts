import type { Box } from '../geometry/types.js';
import type { PixelShape } from './shape.js';

/**
 * Burnt dots of one opening as runs: `runs` holds start and end (exclusive) columns, those of row r from
 * `rowStart[r]` up to `rowStart[r + 1]`. Columns and rows count from the stamp's own upper left corner.
 */
export interface Stamp {
  readonly width: number;
  readonly height: number;
  readonly rowStart: Int32Array;
  readonly runs: Int32Array;
  /** Number of dots. */
  readonly count: number;
  /** Centre of area from the stamp's upper left corner. */
  readonly centreX: number;
  readonly centreY: number;
}

/** A stamp laid on the canvas with its upper left corner at (column, row). */
export interface PlacedStamp {
  readonly stamp: Stamp;
  readonly column: number;
  readonly row: number;
}

/** The box of dots on the canvas. */
export const boxOfDots = ({ stamp, column, row }: PlacedStamp): Box => ({
  minX: column,
  minY: row,
  maxX: column + stamp.width,
  maxY: row + stamp.height,
});

/** Makes a stamp out of rows of runs (start, end, start, end, …), moving it to its own upper left corner. */
export function stampFromRows(rows: readonly (readonly number[])[]): { stamp: Stamp; column: number; row: number } {
  let [first, last, left, right] = [-1, -1, Infinity, -Infinity];
  rows.forEach((row, r) => {
    if (row.length === 0) return;
    if (first < 0) first = r;
    last = r;
    left = Math.min(left, row[0]);
    right = Math.max(right, row[row.length - 1]);
  });
  if (first < 0) return { stamp: EMPTY_STAMP, column: 0, row: 0 };
  const kept = rows.slice(first, last + 1);
  const rowStart = new Int32Array(kept.length + 1);
  kept.forEach((row, r) => {
    rowStart[r + 1] = rowStart[r] + row.length;
  });
  const runs = new Int32Array(rowStart[kept.length]);
  let [count, mx, my] = [0, 0, 0];
  kept.forEach((row, r) => {
    for (let k = 0; k < row.length; k += 2) {
      const start = row[k] - left;
      const end = row[k + 1] - left;
      runs[rowStart[r] + k] = start;
      runs[rowStart[r] + k + 1] = end;
      count += end - start;
      mx += ((end - start) * (start + end)) / 2;
      my += (end - start) * (r + 0.5);
    }
  });
  const stamp: Stamp = {
    width: right - left,
    height: kept.length,
    rowStart,
    runs,
    count,
    centreX: mx / count,
    centreY: my / count,
  };
  return { stamp, column: left, row: first };
}

export const EMPTY_STAMP: Stamp = {
  width: 0,
  height: 0,
  rowStart: new Int32Array(1),
  runs: new Int32Array(0),
  count: 0,
  centreX: 0,
  centreY: 0,
};

/**
 * The dots whose centres lie inside a shape. Exact for shapes whose walls run along the dots' edges, and cheap for
 * large ones: its cost is that of the outline.
 */
export function stampByCentres(shape: PixelShape): PlacedStamp {
  const { walls } = shape;
  const firstRow = Math.ceil(shape.minY - 0.5);
  const rowCount = Math.max(0, Math.ceil(shape.maxY - 0.5) - firstRow);
  const start = new Int32Array(rowCount + 1);
  const eachCrossing = (visit: (row: number, x: number) => void): void => {
    for (let at = 0; at < walls.length; at += 4) {
      let [x0, y0, x1, y1] = [walls[at], walls[at + 1], walls[at + 2], walls[at + 3]];
      if (y0 === y1) continue;
      if (y0 > y1) [x0, y0, x1, y1] = [x1, y1, x0, y0];
      const from = Math.ceil(y0 - 0.5);
      const to = Math.ceil(y1 - 0.5);
      const slope = (x1 - x0) / (y1 - y0);
      for (let row = from; row < to; row += 1) visit(row - firstRow, x0 + (row + 0.5 - y0) * slope);
    }
  };
  eachCrossing((row) => {
    start[row + 1] += 1;
  });
  for (let row = 0; row < rowCount; row += 1) start[row + 1] += start[row];
  const crossings = new Float64Array(start[rowCount]);
  const fill = start.slice();
  eachCrossing((row, x) => {
    crossings[fill[row]] = x;
    fill[row] += 1;
  });
  const rows: number[][] = [];
  for (let row = 0; row < rowCount; row += 1) {
    const xs = crossings.subarray(start[row], start[row + 1]);
    if (xs.length > 1 && (xs.length > 2 || xs[0] > xs[1])) xs.sort();
    const runs: number[] = [];
    for (let k = 0; k + 1 < xs.length; k += 2) {
      const from = Math.ceil(xs[k] - 0.5);
      const to = Math.ceil(xs[k + 1] - 0.5);
      if (to <= from) continue;
      if (runs.length > 0 && runs[runs.length - 1] === from) runs[runs.length - 1] = to;
      else runs.push(from, to);
    }
    rows.push(runs);
  }
  const { stamp, column, row } = stampFromRows(rows);
  return { stamp, column, row: row + firstRow };
}

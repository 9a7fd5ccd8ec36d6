import type { Box, PerAxis } from '../geometry/types.js';
import type { PixelShape } from './shape.js';

/** Runs of burnt dots, row by row from the upper one: start and end (excluded) columns in turn, ascending and apart. */
export type DotRows = readonly (readonly number[])[];

/** Burnt dots of one opening. Columns and rows count from the stamp's own upper left corner. */
export interface Stamp {
  readonly width: number;
  readonly height: number;
  readonly rows: DotRows;
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

/** Visits all runs. */
export function eachRun(rows: DotRows, visit: (from: number, to: number, row: number) => void): void {
  rows.forEach((row, r) => {
    for (let k = 0; k < row.length; k += 2) visit(row[k], row[k + 1], r);
  });
}

/** Makes a stamp out of rows, moving it to its own upper left corner. */
export function stampFromRows(all: DotRows): PlacedStamp {
  const isBurnt = (row: readonly number[]): boolean => row.length > 0;
  const first = Math.max(0, all.findIndex(isBurnt));
  const burnt = all.slice(first, all.findLastIndex(isBurnt) + 1);
  const column = burnt.reduce((least, [start = Infinity]) => Math.min(least, start), Infinity);
  const rows = burnt.map((row) => row.map((at) => at - column));
  let [width, count, mx, my] = [0, 0, 0, 0];
  eachRun(rows, (from, to, row) => {
    width = Math.max(width, to);
    count += to - from;
    mx += ((to - from) * (from + to)) / 2;
    my += (to - from) * (row + 0.5);
  });
  const [centreX, centreY] = count > 0 ? [mx / count, my / count] : [0, 0];
  const stamp = { width, height: rows.length, rows, count, centreX, centreY };
  return { stamp, column: count > 0 ? column : 0, row: first };
}

/**
 * Where closed walls (x0, y0, x1, y1, …) cross the level lines through the middle of each row, so many rows a dot, from the
 * left to the right. Its cost is that of the outline.
 *
 * @returns `first`: number of the first row
 */
export function crossingsOf(
  walls: Float64Array,
  perDot: number,
): { readonly first: number; readonly rows: number[][] } {
  let [minY, maxY] = [Infinity, -Infinity];
  for (let at = 1; at < walls.length; at += 2) {
    if (walls[at] < minY) minY = walls[at];
    if (walls[at] > maxY) maxY = walls[at];
  }
  const first = Math.floor(minY * perDot);
  const rows: number[][] = Array.from({ length: Math.max(0, Math.ceil(maxY * perDot) - first) }, () => []);
  for (let at = 0; at < walls.length; at += 4) {
    let [x0, y0, x1, y1] = [walls[at], walls[at + 1], walls[at + 2], walls[at + 3]];
    if (y0 === y1) continue;
    if (y0 > y1) [x0, y0, x1, y1] = [x1, y1, x0, y0];
    const to = Math.ceil(y1 * perDot - 0.5);
    const slope = (x1 - x0) / (y1 - y0);
    for (let k = Math.ceil(y0 * perDot - 0.5); k < to; k += 1)
      rows[k - first].push(x0 + ((k + 0.5) / perDot - y0) * slope);
  }
  for (const row of rows) row.sort((p, q) => p - q);
  return { first, rows };
}

/** The dots whose centres lie inside a shape. Exact for shapes whose walls run along the dots' edges. */
export function stampByCentres({ walls }: PixelShape): PlacedStamp {
  const { first, rows } = crossingsOf(walls, 1);
  const { stamp, column, row } = stampFromRows(
    rows.map((xs) => {
      const runs: number[] = [];
      for (let k = 0; k + 1 < xs.length; k += 2) {
        const from = Math.ceil(xs[k] - 0.5);
        const to = Math.ceil(xs[k + 1] - 0.5);
        if (to <= from) continue;
        if (runs[runs.length - 1] === from) runs[runs.length - 1] = to;
        else runs.push(from, to);
      }
      return runs;
    }),
  );
  return { stamp, column, row: row + first };
}

/** Dots of a stamp as bytes, row by row. */
export function maskOf({ width, height, rows }: Pick<Stamp, 'width' | 'height' | 'rows'>): Uint8Array {
  const mask = new Uint8Array(width * height);
  eachRun(rows, (from, to, row) => mask.fill(1, row * width + from, row * width + to));
  return mask;
}

/** Runs of the ones in a mask. */
export function stampFromMask(mask: Uint8Array, columns: number, rows: number): PlacedStamp {
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

/** Whole dots for an upright rectangle. */
export interface FittedRectangle {
  readonly stamp: Stamp;
  /** Columns and rows, less what they should be, dots. */
  readonly off: PerAxis;
  readonly areaErrorPercent: number;
}

/** Walls that lean by less than this are upright, dots. */
const UPRIGHT_DOTS = 1e-6;
/** The share of a side that may be taken off at each of its ends. */
const MOST_TRIMMED = 1 / 6;

/** Width and height in dots, where a shape is nothing but an upright rectangle. */
export function uprightRectangle({ walls, minX, minY, maxX, maxY }: PixelShape): PerAxis | undefined {
  if (walls.length !== 16) return undefined;
  for (let at = 0; at < walls.length; at += 4) {
    const [x, y] = [Math.abs(walls[at + 2] - walls[at]), Math.abs(walls[at + 3] - walls[at + 1])];
    if (Math.min(x, y) > UPRIGHT_DOTS) return undefined;
  }
  return { x: maxX - minX, y: maxY - minY };
}

/**
 * The number of columns and of rows nearest to what they should be, exactly; what is then too much is taken off the two
 * longer sides at their ends, which changes neither width.
 *
 * @param size - dots
 * @param kerf - full widths of the beam, dots
 */
export function rectangleOfDots(size: PerAxis, kerf: PerAxis): FittedRectangle {
  const [x, y] = [Math.max(1, Math.round(size.x)), Math.max(1, Math.round(size.y))];
  const flat = x >= y;
  const [long, short, beam] = flat ? [x, y, kerf] : [y, x, { x: kerf.y, y: kerf.x }];
  const goal = burntArea(size, kerf);
  const over = burntArea({ x, y }, kerf) - goal;
  const left = (trim: number): number => over - 4 * lostByTrim(trim, beam);
  const most = short > 2 ? Math.floor(long * MOST_TRIMMED) : 0;
  let trim = 0;
  while (trim < most && Math.abs(left(trim + 1)) < Math.abs(left(trim))) trim += 1;
  return {
    stamp: trimmed(x, y, trim, flat),
    off: { x: x - size.x, y: y - size.y },
    areaErrorPercent: (100 * left(trim)) / goal,
  };
}

/** Of a rectangle grown by the beam (Steiner's formula), dots squared. */
const burntArea = ({ x, y }: PerAxis, kerf: PerAxis): number =>
  x * y + x * kerf.y + y * kerf.x + (Math.PI / 4) * kerf.x * kerf.y;

/** Rows looked at for the area that is lost at one corner. */
const LOOKS = 64;

/** What the beam leaves when the outermost row ends so many dots earlier, at one corner: the next row's cut reaches up. */
function lostByTrim(trim: number, kerf: PerAxis): number {
  if (trim === 0) return 0;
  const [rx, ry] = [kerf.x / 2, kerf.y / 2];
  const reach = (above: number): number => {
    if (above <= 0) return rx;
    return above >= ry ? Number.NEGATIVE_INFINITY : rx * Math.sqrt(1 - (above / ry) ** 2);
  };
  // From the lower edge of the outermost row up to where the beam reaches no more; x from the end of that row.
  const step = (1 + ry) / LOOKS;
  let lost = 0;
  for (let i = 0; i < LOOKS; i += 1) {
    const above = (i + 0.5) * step;
    const full = reach(above - 1);
    lost += full - Math.max(full - trim, reach(above));
  }
  return lost * step;
}

function trimmed(columns: number, rows: number, trim: number, flat: boolean): Stamp {
  const list = Array.from({ length: rows }, (_, row) => {
    const end = row === 0 || row === rows - 1;
    if (flat) return end ? [trim, columns - trim] : [0, columns];
    return row < trim || row >= rows - trim ? [1, columns - 1] : [0, columns];
  });
  return stampFromRows(list).stamp;
}

import type { CoverageMap } from './coverage-map.js';
import type { PixelRing } from './follow.js';

/**
 * Points on one boundary, one per pixel row where the boundary runs steeply, one per column where it runs flat, in the
 * ring's order; padded pixel coordinates. Each point is the exact mean place of the boundary within that row or column:
 * the coverage summed across it. A grey pixel's value is taken as the share of its area that is open.
 */
export interface Samples {
  /** How many samples there are; the arrays may be longer. */
  readonly count: number;
  readonly xs: Float64Array;
  readonly ys: Float64Array;
  /** 1 where the point lies in a pixel row (its x was measured), 0 where it lies in a column. */
  readonly inRow: Uint8Array;
  /** How many of the points came from pixels that are neither full nor empty. */
  readonly greyCount: number;
}

/** Boundary steps on each side that tell which way it runs. */
const LOOK = 4;
/** How many pixels from the boundary grey may reach: a sharp image needs 2, a soft one more. */
const REACH = 4;
/** Rise in level that ends an edge: the next opening's edge begins. Below it is noise. */
const RISE = 10;

/** Room for samples, used again for every ring: thousands of short-lived typed arrays cost more than all fitting. */
let room = { xs: new Float64Array(4096), ys: new Float64Array(4096), inRow: new Uint8Array(4096) };

/** Samples a ring. What comes back is good until the next call. */
export function sampleRing(map: CoverageMap, ring: PixelRing): Samples {
  const { xs, ys } = ring;
  const n = xs.length;
  const look = Math.min(LOOK, Math.max(1, (n >> 3) - 1));
  if (n > room.xs.length)
    room = { xs: new Float64Array(2 * n), ys: new Float64Array(2 * n), inRow: new Uint8Array(2 * n) };
  const { xs: outX, ys: outY, inRow } = room;
  let count = 0;
  let greyCount = 0;
  for (let i = 0; i < n; i += 1) {
    const next = i + 1 === n ? 0 : i + 1;
    let from = i - look;
    if (from < 0) from += n;
    let to = i + 1 + look;
    if (to >= n) to -= n;
    const across = Math.abs(xs[to] - xs[from]);
    const along = Math.abs(ys[to] - ys[from]);
    const steep = xs[next] === xs[i];
    if (steep ? along < across : across <= along) continue;
    const x = xs[i];
    const y = ys[i];
    if (steep) {
      // Down: the opening is on the right of the line x; up: on its left.
      const down = ys[next] > y;
      const row = down ? y : y - 1;
      const shift = edgeShift(map, down ? x - 1 : x, row, down ? -1 : 1, 0);
      outX[count] = x + (down ? -shift : shift);
      outY[count] = row + 0.5;
      inRow[count] = 1;
      if (shift !== 0) greyCount += 1;
    } else {
      const east = xs[next] > x;
      const column = east ? x : x - 1;
      // East: the opening is above (smaller y); west: below.
      const shift = edgeShift(map, column, east ? y : y - 1, 0, east ? 1 : -1);
      outX[count] = column + 0.5;
      outY[count] = y + (east ? shift : -shift);
      inRow[count] = 0;
      if (shift !== 0) greyCount += 1;
    }
    count += 1;
  }
  return { count, xs: outX, ys: outY, inRow, greyCount };
}

/**
 * How far the boundary lies outward of the pixel edge, pixels: what is covered beyond it, less what is missing within.
 * (px, py) is the first pixel outside; (dx, dy) points outward.
 */
const edgeShift = (map: CoverageMap, px: number, py: number, dx: number, dy: number): number =>
  (greyFrom(map, px, py, dx, dy, 0) - greyFrom(map, px - dx, py - dy, -dx, -dy, 255)) / 255;

/** How much the pixels of a soft edge, from one on in one direction, differ from the level that they end in, 0 or 255. */
function greyFrom(map: CoverageMap, px: number, py: number, dx: number, dy: number, end: number): number {
  let sum = 0;
  let before = 255;
  for (let k = 0; k < REACH; k += 1) {
    const off = Math.abs(map.rows[py + k * dy][px + k * dx] - end);
    if (off === 0) break;
    if (off > before + RISE) {
      // The darkest pixel of a narrow web belongs to both edges.
      sum -= before / 2;
      break;
    }
    sum += off;
    before = off;
  }
  return sum;
}

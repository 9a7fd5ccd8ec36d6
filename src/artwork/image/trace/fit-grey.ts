import { ringArea } from '../../../geometry/area.js';
import { cutConvex } from '../../../geometry/convex.js';
import { rectangle } from '../../../geometry/shapes.js';
import type { Box, Point, Ring } from '../../../geometry/types.js';
import type { CoverageMap } from './coverage-map.js';
import { crossing, foot, signedTurn, type WallLine } from './lines-and-circles.js';
import { type Run, straightRuns, straightSides } from './runs.js';
import type { Samples } from './samples.js';

/** Half the width of the strip in which samples count as straight, pixels: a few times the noise of 8-bit levels. */
const STRAIGHT_PX = 0.03;
/** Bulge over a run's length from which on it is part of a curve, pixels. */
const BULGE_PX = 0.03;
/** Fewest samples that make a straight side. */
const MIN_SIDE = 4;
/** Area by which the pixels around a sharp corner may differ from it, square pixels: one sharper or rounder is a curve. */
const CORNER_AREA = { more: 0.15, less: 0.35 };
/** Samples nearer to the one before than this say nothing new, pixels. */
const MIN_STEP = 0.35;
/**
 * A sample is the mean over a pixel row or column, which on a curve lies within it by its second derivative / 24; chords
 * from sample to sample lie within it by more. So far out, in the same measure, the chords enclose the curve's area.
 */
const CURVE_OUT = 1 / 6;

/**
 * A ring of an antialiased image as a polygon: straight sides are fitted and made to meet where the coverage around
 * them says so, curves run through the samples.
 *
 * @returns padded pixels
 */
export function fitGrey(map: CoverageMap, samples: Samples): Ring {
  const out: Point[] = [];
  const sides = straightSides(samples, straightRuns(samples, STRAIGHT_PX), MIN_SIDE, BULGE_PX);
  if (sides.length < 2) pushCurve(out, samples, 0, samples.count);
  else for (let k = 0; k < sides.length; k += 1) join(out, map, samples, sides[k], sides[(k + 1) % sides.length]);
  return out;
}

/** Goes on from one side to the next: by a sharp corner or a curve. */
function join(out: Point[], map: CoverageMap, samples: Samples, p: Run, q: Run): void {
  const { xs, ys, count } = samples;
  const last = (p.start + p.length - 1) % count;
  const gap = (q.start - (p.start + p.length) + 2 * count) % count;
  const meet = crossing(p.line, q.line);
  if (meet && isSharp(map, samples, p, q, gap, meet)) {
    out.push(meet);
    return;
  }
  out.push(foot(p.line, xs[last], ys[last]));
  pushCurve(out, samples, (last + 1) % count, gap);
  out.push(foot(q.line, xs[q.start], ys[q.start]));
}

/** Whether the pixels around the point where two sides meet are those of a sharp corner. */
function isSharp(map: CoverageMap, { xs, ys, count }: Samples, p: Run, q: Run, gap: number, meet: Point): boolean {
  const x = meet[0];
  const y = meet[1];
  const last = (p.start + p.length - 1) % count;
  const endX = xs[last];
  const endY = ys[last];
  const startX = xs[q.start];
  const startY = ys[q.start];
  const reach = Math.max(Math.hypot(x - endX, y - endY), Math.hypot(x - startX, y - startY));
  const turn = signedTurn(p.line, q.line);
  if (gap > 8 || reach > gap + 3 || Math.abs(turn) > 2.7) return false;
  const box: Box = {
    minX: Math.floor(Math.min(x - 1.2, endX, startX)),
    minY: Math.floor(Math.min(y - 1.2, endY, startY)),
    maxX: Math.ceil(Math.max(x + 1.2, endX, startX)),
    maxY: Math.ceil(Math.max(y + 1.2, endY, startY)),
  };
  const convex = turn < 0;
  const excess = wedgeInBox(p.line, q.line, convex, box) - coverageIn(map, box);
  // Rounding takes from a convex corner and adds to a concave one.
  const lost = convex ? excess : -excess;
  return lost > -CORNER_AREA.more && lost < CORNER_AREA.less;
}

/** Points along the boundary at `length` samples from `start` on. */
function pushCurve(out: Point[], { xs, ys, inRow, count }: Samples, start: number, length: number): void {
  let last = out.at(-1) ?? [Infinity, Infinity];
  for (let k = 0; k < length; k += 1) {
    const i = (start + k) % count;
    const before = (i + count - 1) % count;
    const after = (i + 1) % count;
    let x = xs[i];
    let y = ys[i];
    if ((x - last[0]) ** 2 + (y - last[1]) ** 2 < MIN_STEP * MIN_STEP) continue;
    if (inRow[i] === 1) x -= bend(ys, xs, before, i, after) * CURVE_OUT;
    else y -= bend(xs, ys, before, i, after) * CURVE_OUT;
    last = [x, y];
    out.push(last);
  }
}

/** Second derivative of v over u at the middle of three samples; 0 where they don't run on along u. */
function bend(u: Float64Array, v: Float64Array, a: number, i: number, b: number): number {
  const p = u[i] - u[a];
  const q = u[b] - u[i];
  if (Math.abs(p) < MIN_STEP || Math.abs(q) < MIN_STEP || p > 0 !== q > 0) return 0;
  const value = (2 * ((v[b] - v[i]) / q - (v[i] - v[a]) / p)) / (p + q);
  return Math.max(-2, Math.min(2, value));
}

/** How much of a box is open, padded pixels. */
function coverageIn(map: CoverageMap, { minX, minY, maxX, maxY }: Box): number {
  let sum = 0;
  for (let y = Math.max(0, minY); y < Math.min(maxY, map.height + 2); y += 1)
    for (let x = Math.max(0, minX); x < Math.min(maxX, map.length); x += 1) sum += map.rows[y][x];
  return sum / 255;
}

/**
 * Area of the part of a box that lies on the inner side of two lines (n·p <= c): of both where the corner is convex,
 * of at least one where it is concave.
 */
function wedgeInBox(p: WallLine, q: WallLine, convex: boolean, { minX, minY, maxX, maxY }: Box): number {
  const part = (sign: 1 | -1): number => {
    const cut = [p, q].reduce(
      (left, { nx, ny, c }) => cutConvex(left, [sign * nx, sign * ny], sign * c),
      rectangle(minX, minY, maxX, maxY),
    );
    return Math.abs(ringArea(cut));
  };
  return convex ? part(1) : (maxX - minX) * (maxY - minY) - part(-1);
}

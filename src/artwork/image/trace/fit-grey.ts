import { type CoverageMap, coverageAt } from './coverage-map.js';
import { pushCurve } from './curve.js';
import { crossing, fitLine, foot, offLine, type WallLine } from './line.js';
import { OutlineBuilder, pushFillet, signedTurn } from './outline-builder.js';
import { type Run, straightRuns } from './runs.js';
import type { Samples } from './samples.js';

/** Half the width of the strip in which samples count as straight, pixels: a few times the noise of 8-bit levels. */
const STRAIGHT_PX = 0.03;
/** Fewest samples that make a straight side, and the strip in which the shortest must lie. */
const MIN_SIDE = 3;
const SHORT_SIDE_PX = 0.012;
/** How near to a rounded corner's arc the samples between its sides must lie, pixels. */
const NEAR_ARC_PX = 0.25;
/** Turn from which a corner counts as a real one, radians; below it, it may be a curve cut into chords. */
const REAL_CORNER_RAD = 0.4;
/** Area by which a corner as built may differ from the pixels around it, square pixels. */
const CORNER_AREA = 0.06;

/**
 * A ring of an antialiased image as a polygon: straight sides are fitted and made to meet, corners are sharp or round
 * as the coverage around them says, curves run through the samples.
 *
 * @returns x, y, x, y … in padded pixels
 */
export function fitGrey(map: CoverageMap, samples: Samples): number[] {
  const out = new OutlineBuilder();
  const noise = Math.min(0.1, noiseOf(samples));
  const runs = straightRuns(samples, Math.max(STRAIGHT_PX, 3 * noise), Math.max(SHORT_SIDE_PX, 2 * noise));
  const sides = runs
    .map((run) => trimmed(samples, run))
    .filter((run) => run.length >= MIN_SIDE)
    .map((run) => outward(samples, run));
  if (sides.length < 2) {
    pushCurve(out.flat, samples, 0, samples.count);
    out.mark(true);
    return out.finish();
  }
  for (let k = 0; k < sides.length; k += 1) join(out, map, samples, sides[k], sides[(k + 1) % sides.length]);
  return out.finish();
}

/** A short run without end samples that have seen a corner; of length 0 when nothing straight is left. */
function trimmed(samples: Samples, run: Run): Run {
  if (run.length > 4) return run;
  const fits = (start: number, length: number): WallLine | undefined => {
    const line = fitLine(samples, start, length);
    for (let k = 0; k < length; k += 1)
      if (Math.abs(offLine(samples, line, (start + k) % samples.count)) > SHORT_SIDE_PX) return undefined;
    return line;
  };
  for (let length = run.length; length >= MIN_SIDE; length -= 1)
    for (let skip = 0; skip + length <= run.length; skip += 1) {
      const start = (run.start + skip) % samples.count;
      const line = fits(start, length);
      if (line) return { start, length, line };
    }
  return { ...run, length: 0 };
}

/** The run with its line's normal pointing away from the opening: to the right of the walk, y down. */
export function outward(samples: Samples, run: Run): Run {
  const { xs, ys, count } = samples;
  const last = (run.start + run.length - 1) % count;
  const tx = xs[last] - xs[run.start];
  const ty = ys[last] - ys[run.start];
  const { nx, ny, c } = run.line;
  return nx * -ty + ny * tx >= 0 ? run : { ...run, line: { nx: -nx, ny: -ny, c: -c } };
}

/** Fourth differences that are enough to tell how noisy a ring is. */
const NOISE_SAMPLES = 96;
const differences = new Float64Array(NOISE_SAMPLES);

/** Spread of the samples about a smooth boundary, pixels, from their fourth differences. */
function noiseOf(samples: Samples): number {
  const { xs, ys, inRow, count } = samples;
  let found = 0;
  for (let i = 4; i < count && found < NOISE_SAMPLES; i += 1) {
    const kind = inRow[i];
    if (inRow[i - 1] !== kind || inRow[i - 2] !== kind || inRow[i - 3] !== kind || inRow[i - 4] !== kind) continue;
    const v = kind === 1 ? xs : ys;
    differences[found] = Math.abs(v[i] - 4 * v[i - 1] + 6 * v[i - 2] - 4 * v[i - 3] + v[i - 4]);
    found += 1;
  }
  if (found < 8) return 0;
  const sizes = differences.subarray(0, found).sort();
  // Lower quartile of |normal|: 0.3186 sigma; fourth differences multiply sigma by sqrt(70).
  return sizes[found >> 2] / (0.3186 * Math.sqrt(70));
}

function join(out: OutlineBuilder, map: CoverageMap, samples: Samples, p: Run, q: Run): void {
  const { xs, ys, count } = samples;
  const last = (p.start + p.length - 1) % count;
  const gap = (q.start - (p.start + p.length) + 2 * count) % count;
  const meet = crossing(p.line, q.line);
  if (meet && fillet(out, map, samples, p, q, gap, meet)) return;
  const [ax, ay] = foot(p.line, xs[last], ys[last]);
  out.flat.push(ax, ay);
  pushCurve(out.flat, samples, (last + 1) % count, gap);
  out.mark(true);
  const [bx, by] = foot(q.line, xs[q.start], ys[q.start]);
  if (Math.hypot(bx - out.flat[out.flat.length - 2], by - out.flat[out.flat.length - 1]) > 0.05) out.flat.push(bx, by);
  out.mark(false);
}

/** Tries a sharp or round corner; false when the pixels around it don't agree. */
function fillet(
  out: OutlineBuilder,
  map: CoverageMap,
  samples: Samples,
  p: Run,
  q: Run,
  gap: number,
  [x, y]: [number, number],
): boolean {
  const { xs, ys, count } = samples;
  const last = (p.start + p.length - 1) % count;
  const toP = Math.hypot(x - xs[last], y - ys[last]);
  const toQ = Math.hypot(x - xs[q.start], y - ys[q.start]);
  if (toP > gap + 3 || toQ > gap + 3 || gap > 8) return false;
  const turn = signedTurn(p.line, q.line);
  const size = Math.abs(turn);
  if (size > 2.7) return false;
  const box: [number, number, number, number] = [
    Math.floor(Math.min(x - 1.2, xs[last], xs[q.start])),
    Math.floor(Math.min(y - 1.2, ys[last], ys[q.start])),
    Math.ceil(Math.max(x + 1.2, xs[last], xs[q.start])),
    Math.ceil(Math.max(y + 1.2, ys[last], ys[q.start])),
  ];
  const convex = turn < 0;
  const excess = wedgeInBox(p.line, q.line, convex, box) - coverageIn(map, box);
  // Rounding takes from a convex corner and adds to a concave one.
  const lost = convex ? excess : -excess;
  if (lost < -CORNER_AREA) return false;
  let radius = 0;
  if (lost > (size > REAL_CORNER_RAD ? CORNER_AREA / 2 : CORNER_AREA / 15)) {
    const half = size / 2;
    radius = Math.sqrt(lost / (Math.tan(half) - half));
    const reach = radius * Math.tan(half);
    if (reach > Math.min(toP + reachOf(samples, p) / 2, toQ + reachOf(samples, q) / 2)) return false;
    if (radius > 1.2 && !agrees(samples, p.line, q.line, [x, y], turn, radius, (last + 1) % count, gap)) return false;
  }
  pushFillet(out.flat, p.line, q.line, x, y, radius);
  out.mark(false);
  return true;
}

function reachOf(samples: Samples, run: Run): number {
  const last = (run.start + run.length - 1) % samples.count;
  return Math.hypot(samples.xs[last] - samples.xs[run.start], samples.ys[last] - samples.ys[run.start]);
}

function coverageIn(map: CoverageMap, [x0, y0, x1, y1]: readonly [number, number, number, number]): number {
  let sum = 0;
  for (let y = Math.max(0, y0); y < Math.min(y1, map.height + 2); y += 1)
    for (let x = Math.max(0, x0); x < Math.min(x1, map.words * 32); x += 1) sum += coverageAt(map, x, y);
  return sum / 255;
}

/** Whether the samples between two sides lie near the arc that would round their corner. */
function agrees(
  samples: Samples,
  p: WallLine,
  q: WallLine,
  [x, y]: [number, number],
  turn: number,
  radius: number,
  start: number,
  gap: number,
): boolean {
  const far = radius / Math.cos(turn / 2);
  let mx = p.nx + q.nx;
  let my = p.ny + q.ny;
  const size = Math.hypot(mx, my);
  const inwards = turn < 0 ? -1 : 1;
  mx = (mx / size) * inwards;
  my = (my / size) * inwards;
  const cx = x + mx * far;
  const cy = y + my * far;
  for (let k = 0; k < gap; k += 1) {
    const i = (start + k) % samples.count;
    const away2 = (samples.xs[i] - cx) ** 2 + (samples.ys[i] - cy) ** 2;
    if (away2 > (radius + NEAR_ARC_PX) ** 2 || away2 < Math.max(0, radius - NEAR_ARC_PX) ** 2) return false;
  }
  return true;
}

/**
 * Area of the part of a box that lies on the inner side of two lines (n·p <= c): of both where the corner is convex,
 * of at least one where it is concave.
 */
function wedgeInBox(p: WallLine, q: WallLine, convex: boolean, box: readonly [number, number, number, number]): number {
  const [x0, y0, x1, y1] = box;
  const whole: number[] = [x0, y0, x1, y0, x1, y1, x0, y1];
  if (convex) return area(clip(clip(whole, p, 1), q, 1));
  return (x1 - x0) * (y1 - y0) - area(clip(clip(whole, p, -1), q, -1));
}

function clip(poly: readonly number[], line: WallLine, sign: number): number[] {
  const out: number[] = [];
  const n = poly.length;
  for (let i = 0; i < n; i += 2) {
    const ax = poly[i];
    const ay = poly[i + 1];
    const bx = poly[(i + 2) % n];
    const by = poly[(i + 3) % n];
    const da = sign * (line.nx * ax + line.ny * ay - line.c);
    const db = sign * (line.nx * bx + line.ny * by - line.c);
    if (da <= 0) out.push(ax, ay);
    if (da < 0 !== db < 0 && da !== db) {
      const t = da / (da - db);
      if (t > 0 && t < 1) out.push(ax + t * (bx - ax), ay + t * (by - ay));
    }
  }
  return out;
}

function area(poly: readonly number[]): number {
  let twice = 0;
  for (let i = 0; i < poly.length; i += 2) {
    const j = (i + 2) % poly.length;
    twice += poly[i] * poly[j + 1] - poly[j] * poly[i + 1];
  }
  return Math.abs(twice) / 2;
}

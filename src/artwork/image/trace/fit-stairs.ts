import { pushArc } from './arc.js';
import { outward } from './fit-grey.js';
import type { PixelRing } from './follow.js';
import { crossing, fitLine, foot, offLine, type WallLine } from './line.js';
import { minimaxCircle, minimaxLine, offCircle } from './minimax.js';
import { OutlineBuilder, signedTurn } from './outline-builder.js';
import { isWithinReach } from './reach.js';
import { roundedRectangle } from './rounded-rectangle.js';
import { type Run, straightRuns } from './runs.js';
import type { Samples } from './samples.js';
import { asRectangle, rectangleCorners } from './slanted-rectangle.js';
import { pushSmooth } from './smooth.js';
import { pushTangentArc } from './tangent-arc.js';

/** A pixel is open when its centre is: the edge lies within half a step of the staircase, and a little for rounding. */
const HALF_STEP = 0.52;
/** Half the width of the strip for cutting a staircase into straight runs. */
const STRAIGHT_PX = 0.6;
/** Bulge over a run's length from which on it is part of a curve, pixels. */
const BULGE_PX = 0.45;
/** The same where nothing but a rectangle is looked for: a single step far from the middle bulges more. */
const RECTANGLE_BULGE_PX = 0.75;
/** Most by which a shape's width may miss the number of open pixels, pixels; then the smooth curve is taken. */
const MISS_PX = 0.3;
const MIN_SIDE = 5;
/** Most sides of a shape with round corners. */
const MOST_SIDES = 24;
/** Fewer pixels than this have no shape to find. */
const SPECK = 8;
/** Stairs that break off more often than this many samples are noise, and are taken as they are. */
const RAGGED = 2.8;
/** Shortest run that counts as a side, as a share of the longest: tried in this order. */
const SHARES = [0.75, 0.5, 0.3, 0.15];
/** How far stairs may lie off an arc: half a step, and a little for sides that are not quite right. */
const ARC_PX = HALF_STEP + 0.1;
/**
 * Arcs are tried twice: a side that runs along the pixels may lie half a step off, and the stairs of its arcs as much
 * more, if the area is right.
 */
const STRICTNESS = [
  { arcs: ARC_PX, missPx: 0.2 },
  { arcs: 2 * HALF_STEP, missPx: 0.06 },
];
/** The tip of a sharp corner may lie this much further out than walls may, pixels. */
const TIP_PX = 0.6;
/** How far stairs may lie off an upright pad with round corners, which lies best between them on the whole. */
const ROUNDED_PX = 0.75;
/** How much further out than its stairs such a pad may lie between its sides, pixels; its sides may not. */
const ROUNDED_SLACK_PX = 0.3;
/** Samples left out at the ends of sides that run into a curve: tried in this order. */
const TRIMS = [1, 2, 4, 7, 11, 16];
/** How far the staircase may lie off a corner made of two sides, pixels. */
const CORNER_PX = 0.75;

/**
 * The staircase of a 1-bit image as the shape that made it: an axis-parallel rectangle on the pixel edges, straight
 * sides that meet, whole circles and arcs, and smooth curves for the rest.
 *
 * @returns x, y, x, y … in padded pixels
 */
export function fitStairs(ring: PixelRing, samples: Samples): number[] {
  const plain = plainRectangle(ring);
  if (plain) return plain;
  const near = (flat: number[] | undefined, missPx: number, slackPx?: number): number[] | undefined =>
    flat && misses(flat, ring) < missPx * (samples.count / 2) && isWithinReach(flat, ring, slackPx) ? flat : undefined;
  if (ring.area < SPECK) return stairs(ring);
  const runs = straightRuns(samples, STRAIGHT_PX);
  if (runs.length > 8 && samples.count < RAGGED * runs.length) return stairs(ring);
  const four = sidesOf(samples, runs, 3, RECTANGLE_BULGE_PX);
  const rectangle = asRectangle(samples, four);
  const sharp =
    (rectangle && rectangleCorners(samples, rectangle)) ??
    (four.length === 4 ? fromSides(samples, four, {}) : undefined) ??
    fromSides(samples, sidesOf(samples, runs, 3, BULGE_PX), {});
  const polygon = sharp && isWithinReach(sharp, ring, TIP_PX) ? sharp : undefined;
  const circle = wholeCircle(samples);
  if (polygon && circle) return misses(polygon, ring) <= misses(circle, ring) ? polygon : circle;
  if (polygon || circle) return polygon ?? circle ?? [];
  const upright = near(roundedRectangle(ring, samples, ROUNDED_PX), MISS_PX, ROUNDED_SLACK_PX);
  if (upright) return upright;
  // The fewest sides that explain the stairs; their ends lie on the curves between them, farther the larger the radius.
  const longest = runs.reduce((most, run) => Math.max(most, run.length), 0);
  for (const { arcs, missPx } of STRICTNESS) {
    let before = 0;
    for (const share of SHARES) {
      const least = Math.max(MIN_SIDE, share * longest);
      const count = runs.filter((run) => run.length >= least).length;
      if (count === before || count > MOST_SIDES) continue;
      before = count;
      for (const trim of TRIMS) {
        const sides = sidesOf(samples, runs, least, RECTANGLE_BULGE_PX, trim);
        const rounded = near(fromSides(samples, sides, { arcs }), missPx);
        if (rounded) return rounded;
      }
    }
  }
  const mixed = near(
    fromSides(samples, sidesOf(samples, runs, MIN_SIDE, BULGE_PX), { arcs: ARC_PX, curves: true }),
    MISS_PX,
  );
  if (mixed) return mixed;
  const out = new OutlineBuilder();
  pushSmooth(out.flat, samples, 0, samples.count, true);
  out.mark(true);
  return out.finish();
}

/** By how much a shape's area misses the number of open pixels, which is right on average. */
function misses(flat: readonly number[], ring: PixelRing): number {
  return Math.abs(Math.abs(flatArea(flat)) - ring.area);
}

function flatArea(flat: readonly number[]): number {
  let twice = 0;
  for (let i = 0; i < flat.length; i += 2) {
    const j = (i + 2) % flat.length;
    twice += flat[i] * flat[j + 1] - flat[j] * flat[i + 1];
  }
  return twice / 2;
}

/** The pixel edges themselves. */
function stairs({ xs, ys }: PixelRing): number[] {
  const out: number[] = [];
  for (let i = 0; i < xs.length; i += 1) out.push(xs[i], ys[i]);
  return out;
}

function plainRectangle({ xs, ys }: PixelRing): number[] | undefined {
  const out: number[] = [];
  const n = xs.length;
  for (let i = 0; i < n; i += 1) {
    const a = i === 0 ? n - 1 : i - 1;
    const b = i + 1 === n ? 0 : i + 1;
    if (xs[b] - xs[i] === xs[i] - xs[a] && ys[b] - ys[i] === ys[i] - ys[a]) continue;
    out.push(xs[i], ys[i]);
    if (out.length > 8) return undefined;
  }
  return out;
}

/**
 * Runs that are straight beyond doubt, with the line in the middle of what their stairs allow.
 *
 * @param trim - samples to leave out of a run at both ends, as far as enough remain
 */
function sidesOf(samples: Samples, runs: readonly Run[], minLength: number, mostBulge: number, trim = 0): Run[] {
  return runs
    .filter((run) => run.length >= minLength && bulgeOf(samples, run) < mostBulge)
    .map((run) => {
      const inner = straightest(samples, run, Math.min(2 * trim, run.length - 4));
      const own = trim === 0 && inner.length >= 8 ? 1 : 0;
      const [start, length] = [inner.start + own, inner.length - 2 * own];
      const line = minimaxLine(samples, start, length, isSteep(samples, start, length));
      return outward(samples, { ...inner, line });
    });
}

/** The part of a run, shorter by `less` samples, that lies best on a line: away from a curve at either end. */
function straightest(samples: Samples, run: Run, less: number): { start: number; length: number } {
  const length = run.length - Math.max(0, less);
  let best = run.start;
  let least = Infinity;
  for (let skip = 0; skip + length <= run.length; skip += 1) {
    const start = (run.start + skip) % samples.count;
    const line = fitLine(samples, start, length);
    // Among equals the middle one.
    let sum = 1e-9 * Math.abs(2 * skip + length - run.length);
    for (let k = 0; k < length; k += 1) {
      const i = (start + k) % samples.count;
      sum += (line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c) ** 2;
    }
    if (sum < least) [best, least] = [start, sum];
  }
  return { start: best, length };
}

function isSteep({ inRow, count }: Samples, start: number, length: number): boolean {
  let rows = 0;
  for (let k = 0; k < length; k += 1) rows += inRow[(start + k) % count];
  return rows * 2 > length;
}

/** How far the middle of a run stands out from its ends, by the best parabola, pixels. */
function bulgeOf(samples: Samples, { start, length, line }: Run): number {
  if (length < 4) return 0;
  let [sum, curve] = [0, 0];
  for (let k = 0; k < length; k += 1) {
    const t = (2 * k) / (length - 1) - 1;
    const shape = t * t - (length + 1) / (3 * (length - 1));
    const i = (start + k) % samples.count;
    sum += shape * shape;
    curve += shape * (line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c);
  }
  return sum > 0 ? Math.abs(curve / sum) : 0;
}

function wholeCircle(samples: Samples): number[] | undefined {
  const circle = minimaxCircle(samples, 0, samples.count, 2 * HALF_STEP);
  if (!circle) return undefined;
  for (let i = 0; i < samples.count; i += 1)
    if (Math.abs(offCircle(samples, circle, i)) > HALF_STEP + 0.08) return undefined;
  const out: number[] = [];
  pushArc(out, circle.x, circle.y, circle.radius, 0, -2 * Math.PI);
  return out.slice(0, -2);
}

/**
 * Joins sides by corners where the stairs between them allow it, else by arcs, else by smooth curves.
 *
 * @param allowed - arcs that lie this near to the stairs, pixels; smooth curves; undefined comes back where what is
 * allowed is not enough
 */
function fromSides(
  samples: Samples,
  sides: readonly Run[],
  allowed: { readonly arcs?: number; readonly curves?: boolean },
): number[] | undefined {
  const { arcs, curves } = allowed;
  if (sides.length < (curves ? 1 : arcs ? 2 : 3)) return undefined;
  const out = new OutlineBuilder();
  for (let k = 0; k < sides.length; k += 1) {
    const [p, q] = [sides[k], sides[(k + 1) % sides.length]];
    const gap = (q.start - (p.start + p.length) + 2 * samples.count) % samples.count;
    const after = (p.start + p.length) % samples.count;
    const corner = p === q ? undefined : sharpCorner(samples, p, q, gap);
    if (corner) out.flat.push(...corner);
    else if (arcs && p !== q && pushTangentArc(out.flat, samples, p.line, q.line, after, gap, arcs)) out.mark(false);
    else if (!curves) return undefined;
    else pushCurve(out, samples, p, q, gap);
  }
  return out.finish();
}

function sharpCorner(samples: Samples, p: Run, q: Run, gap: number): [number, number] | undefined {
  const meet = crossing(p.line, q.line);
  if (!meet || Math.abs(signedTurn(p.line, q.line)) < 0.35) return undefined;
  const { xs, ys, count } = samples;
  const last = (p.start + p.length - 1) % count;
  const reach = gap + 3;
  if (Math.hypot(meet[0] - xs[last], meet[1] - ys[last]) > reach) return undefined;
  if (Math.hypot(meet[0] - xs[q.start], meet[1] - ys[q.start]) > reach) return undefined;
  for (let k = -1; k <= gap; k += 1) {
    const i = (last + 1 + k + count) % count;
    const off = Math.min(away(samples, p.line, i), away(samples, q.line, i));
    if (off > CORNER_PX) return undefined;
  }
  return meet;
}

function away(samples: Samples, line: WallLine, i: number): number {
  return Math.min(
    Math.abs(offLine(samples, line, i)),
    Math.abs(line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c) * 1.2,
  );
}

/** A smooth line through the stairs between two sides. */
function pushCurve(out: OutlineBuilder, samples: Samples, p: Run, q: Run, gap: number): void {
  const { xs, ys, count } = samples;
  const last = (p.start + p.length - 1) % count;
  out.flat.push(...foot(p.line, xs[last], ys[last]));
  out.mark(false);
  if (gap > 2) pushSmooth(out.flat, samples, (last + 1) % count, gap, false);
  out.mark(true);
  out.flat.push(...foot(q.line, xs[q.start], ys[q.start]));
  out.mark(false);
}

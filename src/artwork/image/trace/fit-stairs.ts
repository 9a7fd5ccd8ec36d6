import { fitCircle, offCircle, pushArc } from './circle.js';
import type { PixelRing } from './follow.js';
import { crossing, flatArea, offLine, signedTurn } from './line.js';
import { isWithinReach } from './reach.js';
import { roundedRectangle } from './rounded-rectangle.js';
import { type Run, sidesOf, straightRuns } from './runs.js';
import type { Samples } from './samples.js';
import { slantedRectangle } from './slanted-rectangle.js';
import { smoothCurve } from './smooth.js';

/** Half the width of the strip for cutting a staircase into straight runs. */
const STRAIGHT_PX = 0.6;
/** Bulge over a run's length from which on it is part of a curve, pixels. */
const BULGE_PX = 0.75;
/** Most by which a shape's width may miss the number of open pixels, pixels; then the smooth curve is taken. */
const MISS_PX = 0.3;
const MIN_SIDE = 3;
/** Fewer pixels than this have no shape to find. */
const SPECK = 8;
/** Stairs that break off more often than this many samples are noise, and are taken as they are. */
const RAGGED = 2.8;
/** How far stairs may lie off a circle, pixels: a pixel is open when its centre is, so half a step and some rounding. */
const CIRCLE_PX = 0.6;
/** The tip of a sharp corner may lie this much further out than walls may, pixels. */
const TIP_PX = 0.6;
/** How far stairs may lie off an upright pad with round corners, which lies best between them on the whole. */
const ROUNDED_PX = 0.75;
/** How much further out than its stairs such a pad may lie between its sides, pixels; its sides may not. */
const ROUNDED_SLACK_PX = 0.3;
/** How far the staircase may lie off a corner made of two sides, pixels. */
const CORNER_PX = 0.75;

/**
 * The staircase of a 1-bit image as the shape that made it: an axis-parallel rectangle on the pixel edges, straight
 * sides that meet, a circle, an upright pad with round corners; a smooth curve for all else.
 *
 * @returns x, y, x, y … in padded pixels
 */
export function fitStairs(ring: PixelRing, samples: Samples): readonly number[] {
  const plain = plainRectangle(ring);
  if (plain) return plain;
  if (ring.area < SPECK) return stairs(ring);
  const runs = straightRuns(samples, STRAIGHT_PX);
  if (runs.length > 8 && samples.count < RAGGED * runs.length) return stairs(ring);
  const sides = sidesOf(samples, runs, MIN_SIDE, BULGE_PX);
  const sharp = slantedRectangle(samples, sides) ?? meeting(samples, sides);
  const circle = wholeCircle(samples);
  // The number of open pixels is right on average.
  const miss = (flat: readonly number[]): number => Math.abs(Math.abs(flatArea(flat)) - ring.area);
  const [best] = [sharp && isWithinReach(sharp, ring, TIP_PX) ? sharp : undefined, circle]
    .filter((flat) => flat !== undefined)
    .sort((p, q) => miss(p) - miss(q));
  if (best) return best;
  const rounded = roundedRectangle(ring, samples, ROUNDED_PX);
  if (rounded && miss(rounded) < MISS_PX * (samples.count / 2) && isWithinReach(rounded, ring, ROUNDED_SLACK_PX))
    return rounded;
  return smoothCurve(samples);
}

/** The pixel edges themselves. */
export function stairs({ xs, ys }: PixelRing): number[] {
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

function wholeCircle(samples: Samples): number[] | undefined {
  const circle = fitCircle(samples);
  if (!circle) return undefined;
  for (let i = 0; i < samples.count; i += 1) if (Math.abs(offCircle(samples, circle, i)) > CIRCLE_PX) return undefined;
  const out: number[] = [];
  pushArc(out, circle, 0, -2 * Math.PI);
  return out.slice(0, -2);
}

/** The corners of sides that all meet where the stairs between them allow it. */
function meeting(samples: Samples, sides: readonly Run[]): number[] | undefined {
  if (sides.length < 3) return undefined;
  const out: number[] = [];
  for (let k = 0; k < sides.length; k += 1) {
    const corner = sharpCorner(samples, sides[k], sides[(k + 1) % sides.length]);
    if (!corner) return undefined;
    out.push(...corner);
  }
  return out;
}

function sharpCorner(samples: Samples, p: Run, q: Run): [number, number] | undefined {
  const { xs, ys, count } = samples;
  const gap = (q.start - (p.start + p.length) + 2 * count) % count;
  const meet = crossing(p.line, q.line);
  if (!meet || Math.abs(signedTurn(p.line, q.line)) < 0.35) return undefined;
  const last = (p.start + p.length - 1) % count;
  const reach = gap + 3;
  if (Math.hypot(meet[0] - xs[last], meet[1] - ys[last]) > reach) return undefined;
  if (Math.hypot(meet[0] - xs[q.start], meet[1] - ys[q.start]) > reach) return undefined;
  for (let k = -1; k <= gap; k += 1) {
    const i = (last + 1 + k + count) % count;
    const off = Math.min(Math.abs(offLine(samples, p.line, i)), Math.abs(offLine(samples, q.line, i)));
    if (off > CORNER_PX) return undefined;
  }
  return meet;
}

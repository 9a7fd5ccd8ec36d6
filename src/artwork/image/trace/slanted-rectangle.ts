import { crossing, type WallLine } from './line.js';
import type { Run } from './runs.js';
import type { Samples } from './samples.js';

/** Stairs may lie this far from the side that made them, pixels: half a step, and a little for rounding. */
const HALF_STEP = 0.52;
/** How far the four sides, each by itself, may be off a right angle, radians: a short side has few steps to tell. */
const ROUGH_RAD = 0.3;
/** Turns are looked for in this range about the long sides' own, and to this fineness, radians. */
const SPAN_RAD = 0.12;
const FINE_RAD = 1e-5;
const GOLDEN = (Math.sqrt(5) - 1) / 2;

/** How far the stairs may lie off a rectangle anywhere, its corners included, pixels. */
const ANYWHERE_PX = 0.8;

/** The corners of a rectangle's sides, x, y, x, y …; undefined where the stairs leave them. */
export function rectangleCorners(samples: Samples, sides: readonly Run[]): number[] | undefined {
  const out: number[] = [];
  for (let k = 0; k < 4; k += 1) {
    const meet = crossing(sides[k].line, sides[(k + 1) % 4].line);
    if (!meet) return undefined;
    out.push(...meet);
  }
  for (let i = 0; i < samples.count; i += 1) {
    // Inside of all four sides, or on the walls: the outermost of the four distances is that from the rectangle.
    let off = -Infinity;
    for (const { line } of sides) off = Math.max(off, line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c);
    if (Math.abs(off) > ANYWHERE_PX) return undefined;
  }
  return out;
}

/**
 * Four sides found one by one as those of one rectangle: the turn at which the stairs lie nearest to their sides, and
 * each side in the middle of what its stairs allow. Short sides are too short to tell their own direction.
 *
 * @returns the same runs with the rectangle's sides; undefined where no rectangle would have made these stairs
 */
export function asRectangle(samples: Samples, sides: readonly Run[]): Run[] | undefined {
  if (sides.length !== 4) return undefined;
  const angles = sides.map(({ line }, k) => unwound(Math.atan2(line.ny, line.nx) + (k * Math.PI) / 2));
  const longest = sides.reduce((most, side, k) => (side.length > sides[most].length ? k : most), 0);
  if (angles.some((angle) => Math.abs(unwound(angle - angles[longest])) > ROUGH_RAD)) return undefined;
  const worst = (angle: number): number =>
    sides.reduce((most, side, k) => Math.max(most, halfRange(samples, side, normalOf(angle, k)).half), 0);
  const angle = least(worst, angles[longest] - SPAN_RAD, angles[longest] + SPAN_RAD);
  if (worst(angle) > HALF_STEP) return undefined;
  return sides.map((side, k) => {
    const normal = normalOf(angle, k);
    return { ...side, line: { ...normal, c: halfRange(samples, side, normal).middle } };
  });
}

type Normal = Pick<WallLine, 'nx' | 'ny'>;

/** Sides follow each other by quarter turns backwards: y runs down. */
const normalOf = (angle: number, k: number): Normal => ({
  nx: Math.cos(angle - (k * Math.PI) / 2),
  ny: Math.sin(angle - (k * Math.PI) / 2),
});

const unwound = (angle: number): number => Math.atan2(Math.sin(angle), Math.cos(angle));

/** Middle of a side's place and how far its stairs lie from it, in the direction in which they were measured. */
function halfRange(samples: Samples, { start, length }: Run, { nx, ny }: Normal): { middle: number; half: number } {
  const { xs, ys, inRow, count } = samples;
  let rows = 0;
  let [low, high] = [Infinity, -Infinity];
  const ends = length >= 8 ? 2 : length >= 5 ? 1 : 0;
  for (let k = ends; k < length - ends; k += 1) {
    const i = (start + k) % count;
    const at = nx * xs[i] + ny * ys[i];
    if (at < low) low = at;
    if (at > high) high = at;
    rows += inRow[i];
  }
  const share = Math.abs(2 * rows > length - 2 * ends ? nx : ny);
  return { middle: (low + high) / 2, half: (high - low) / 2 / (share || 1) };
}

/** Where a function that first falls and then rises is least (golden section). */
function least(f: (x: number) => number, from: number, to: number): number {
  let [a, b] = [from, to];
  let [p, q] = [b - GOLDEN * (b - a), a + GOLDEN * (b - a)];
  let [fp, fq] = [f(p), f(q)];
  while (b - a > FINE_RAD) {
    if (fp <= fq) {
      [b, q, fq] = [q, p, fp];
      p = b - GOLDEN * (b - a);
      fp = f(p);
    } else {
      [a, p, fp] = [p, q, fq];
      q = a + GOLDEN * (b - a);
      fq = f(q);
    }
  }
  return (a + b) / 2;
}

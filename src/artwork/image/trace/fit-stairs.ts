import { ringArea } from '../../../geometry/area.js';
import type { Point, Ring } from '../../../geometry/types.js';
import { present } from '../../../kept.js';
import { type PixelRing, stairs } from './follow.js';
import { crossing, fitCircle, offCircle, offLine, pushArc, signedTurn, type WallLine } from './lines-and-circles.js';
import { roundedRectangle } from './rounded-rectangle.js';
import { type Run, straightRuns, straightSides } from './runs.js';
import type { Samples } from './samples.js';

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
 * @returns padded pixels
 */
export function fitStairs(ring: PixelRing, samples: Samples): Ring {
  const plain = plainRectangle(ring);
  if (plain) return plain;
  if (ring.area < SPECK) return stairs(ring);
  const runs = straightRuns(samples, STRAIGHT_PX);
  if (runs.length > 8 && samples.count < RAGGED * runs.length) return stairs(ring);
  const sides = straightSides(samples, runs, MIN_SIDE, BULGE_PX);
  const sharp = slantedRectangle(samples, sides) ?? meeting(samples, sides);
  const circle = wholeCircle(samples);
  // The number of open pixels is right on average.
  const miss = (outline: Ring): number => Math.abs(Math.abs(ringArea(outline)) - ring.area);
  const [best] = [sharp && isWithinReach(sharp, ring, TIP_PX) ? sharp : undefined, circle]
    .filter((outline) => outline !== undefined)
    .sort((p, q) => miss(p) - miss(q));
  if (best) return best;
  const rounded = roundedRectangle(ring, samples, ROUNDED_PX);
  if (rounded && miss(rounded) < MISS_PX * (samples.count / 2) && isWithinReach(rounded, ring, ROUNDED_SLACK_PX))
    return rounded;
  return smoothCurve(samples);
}

function plainRectangle({ xs, ys }: PixelRing): Ring | undefined {
  const out: Point[] = [];
  const n = xs.length;
  for (let i = 0; i < n; i += 1) {
    const a = i === 0 ? n - 1 : i - 1;
    const b = i + 1 === n ? 0 : i + 1;
    if (xs[b] - xs[i] === xs[i] - xs[a] && ys[b] - ys[i] === ys[i] - ys[a]) continue;
    out.push([xs[i], ys[i]]);
    if (out.length > 4) return undefined;
  }
  return out;
}

function wholeCircle(samples: Samples): Ring | undefined {
  const circle = fitCircle(samples);
  if (!circle) return undefined;
  for (let i = 0; i < samples.count; i += 1) if (Math.abs(offCircle(samples, circle, i)) > CIRCLE_PX) return undefined;
  const out: Point[] = [];
  pushArc(out, circle, 0, -2 * Math.PI);
  return out.slice(0, -1);
}

/** The corners of sides that all meet where the stairs between them allow it. */
function meeting(samples: Samples, sides: readonly Run[]): Ring | undefined {
  if (sides.length < 3) return undefined;
  const out: Point[] = [];
  for (let k = 0; k < sides.length; k += 1) {
    const corner = sharpCorner(samples, sides[k], sides[(k + 1) % sides.length]);
    if (!corner) return undefined;
    out.push(corner);
  }
  return out;
}

function sharpCorner(samples: Samples, p: Run, q: Run): Point | undefined {
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

/** Directions in which a fitted outline is held to its stairs. */
const DIRECTIONS = Array.from({ length: 32 }, (_, k) => {
  const angle = (k * Math.PI) / 16;
  const [ux, uy] = [Math.cos(angle), Math.sin(angle)];
  // A wall runs between the centre of the last open pixel and that of the next one in its row or column.
  return { ux, uy, beyondPx: Math.max(Math.abs(ux), Math.abs(uy)) - (Math.abs(ux) + Math.abs(uy)) / 2 };
});
/** For rounding, and for sides that are not quite right. */
const SLACK_PX = 0.05;

/**
 * Whether an outline lies no further out than its stairs allow: arcs through the few steps of a round corner may bulge
 * beyond all samples.
 *
 * @param outline - padded pixels
 * @param slackPx - more for sharp corners, whose tips no sample sees
 */
function isWithinReach(outline: Ring, { xs, ys }: PixelRing, slackPx = SLACK_PX): boolean {
  return DIRECTIONS.every(({ ux, uy, beyondPx }) => {
    let reach = -Infinity;
    for (let i = 0; i < xs.length; i += 1) reach = Math.max(reach, ux * xs[i] + uy * ys[i]);
    const most = reach + beyondPx + slackPx;
    return outline.every(([x, y]) => ux * x + uy * y <= most);
  });
}

/** Half the window, in samples, at most and at least. */
const WIDEST = 24;
const NARROWEST = 3;
/** Spread of a staircase about the curve it stands for, pixels: 0.29, with room. */
const MOST_RMS_PX = 0.34;

/**
 * A smooth curve through the samples of a staircase: at each sample a parabola is fitted to as many neighbours as it
 * explains.
 */
function smoothCurve(samples: Samples): Ring {
  const out: Point[] = [];
  const most = Math.min(WIDEST, Math.max(NARROWEST, Math.floor(samples.count / 6)));
  let half = most;
  for (let i = 0; i < samples.count; i += 1) {
    // Windows change slowly along a curve: start from the last one.
    half = Math.min(most, half + 2);
    let point = parabolaAt(samples, i, half);
    while (point.rms > MOST_RMS_PX && half > NARROWEST) {
      half = Math.max(NARROWEST, Math.floor(half * 0.8));
      point = parabolaAt(samples, i, half);
    }
    out.push([point.x, point.y]);
  }
  return out;
}

/** Room for the samples of a window, along its chord and across. */
const [along, across] = [new Float64Array(2 * WIDEST + 1), new Float64Array(2 * WIDEST + 1)];

function parabolaAt({ xs, ys, count }: Samples, i: number, half: number): { x: number; y: number; rms: number } {
  const a = (i - half + count) % count;
  const b = (i + half) % count;
  const chord = Math.hypot(xs[b] - xs[a], ys[b] - ys[a]);
  const n = 2 * half + 1;
  if (!(chord > 0)) return { x: xs[i], y: ys[i], rms: 0 };
  const tx = (xs[b] - xs[a]) / chord;
  const ty = (ys[b] - ys[a]) / chord;
  // v = c0 + c1 u + c2 u² about the window's middle, by orthogonal polynomials.
  let mu = 0;
  for (let k = 0; k < n; k += 1) {
    const j = (a + k) % count;
    along[k] = (xs[j] - xs[i]) * tx + (ys[j] - ys[i]) * ty;
    across[k] = (xs[j] - xs[i]) * -ty + (ys[j] - ys[i]) * tx;
    mu += along[k] / n;
  }
  let s2 = 0;
  let s3 = 0;
  let s4 = 0;
  let v0 = 0;
  let v1 = 0;
  let v2 = 0;
  for (let k = 0; k < n; k += 1) {
    const u = along[k] - mu;
    const v = across[k];
    s2 += u * u;
    s3 += u * u * u;
    s4 += u ** 4;
    v0 += v;
    v1 += u * v;
    v2 += u * u * v;
  }
  if (!(s2 > 0)) return { x: xs[i], y: ys[i], rms: 0 };
  const slope = v1 / s2;
  const g = s3 / s2;
  const h = s2 / n;
  const norm = s4 - s3 * g - s2 * h;
  const c2 = norm > 1e-9 ? (v2 - v1 * g - v0 * h) / norm : 0;
  const value = (u: number): number => v0 / n + slope * u + c2 * (u * u - g * u - h);
  let sum = 0;
  for (let k = 0; k < n; k += 1) sum += (across[k] - value(along[k] - mu)) ** 2;
  const v = value(-mu);
  return { x: xs[i] - v * ty, y: ys[i] + v * tx, rms: Math.sqrt(sum / (n - 3)) };
}

/** How far the four sides, each by itself, may be off a right angle, radians: a short side has few steps to tell. */
const ROUGH_RAD = 0.3;
/** How far the stairs may lie off a rectangle anywhere, its corners included, pixels. */
const ANYWHERE_PX = 0.8;

/**
 * Four sides found one by one as those of one rectangle, by least squares: short sides are too short to tell their own
 * direction.
 *
 * @returns its corners; undefined where the stairs leave it
 */
function slantedRectangle(samples: Samples, sides: readonly Run[]): Ring | undefined {
  if (sides.length !== 4) return undefined;
  const longest = sides.reduce((most, side, k) => (side.length > sides[most].length ? k : most), 0);
  const rough = Math.atan2(sides[longest].line.ny, sides[longest].line.nx);
  let [along2, lean] = [0, 0];
  const places = sides.map((side, k) => {
    const { x, y, uu, uv } = momentsOf(samples, side, normalOf(rough, k - longest));
    along2 += uu;
    lean += uv;
    return { x, y };
  });
  const angle = rough - Math.atan2(lean, along2);
  const lines = places.map(({ x, y }, k): WallLine => {
    const { nx, ny } = normalOf(angle, k - longest);
    return { nx, ny, c: nx * x + ny * y };
  });
  const isSquare = sides.every(({ line }, k) => line.nx * lines[k].nx + line.ny * lines[k].ny > Math.cos(ROUGH_RAD));
  for (let i = 0; i < samples.count; i += 1) {
    // Inside of all four sides, or on the walls: the outermost of the four distances is that from the rectangle.
    const off = Math.max(...lines.map(({ nx, ny, c }) => nx * samples.xs[i] + ny * samples.ys[i] - c));
    if (!isSquare || Math.abs(off) > ANYWHERE_PX) return undefined;
  }
  return present(...lines.map((line, k) => crossing(line, lines[(k + 1) % 4])));
}

type Normal = Pick<WallLine, 'nx' | 'ny'>;

/** Sides follow each other by quarter turns backwards: y runs down. */
const normalOf = (angle: number, k: number): Normal => ({
  nx: Math.cos(angle - (k * Math.PI) / 2),
  ny: Math.sin(angle - (k * Math.PI) / 2),
});

/** Middle of a side's samples, and how they spread along it and lean to its normal; its ends may have seen a corner. */
function momentsOf({ xs, ys, count }: Samples, { start, length }: Run, { nx, ny }: Normal) {
  const ends = length >= 8 ? 2 : length >= 5 ? 1 : 0;
  const own = Array.from({ length: length - 2 * ends }, (_, k) => (start + ends + k) % count);
  const x = own.reduce((sum, i) => sum + xs[i], 0) / own.length;
  const y = own.reduce((sum, i) => sum + ys[i], 0) / own.length;
  let [uu, uv] = [0, 0];
  for (const i of own) {
    const u = (ys[i] - y) * nx - (xs[i] - x) * ny;
    uu += u * u;
    uv += u * ((xs[i] - x) * nx + (ys[i] - y) * ny);
  }
  return { x, y, uu, uv };
}

import { ringBounds } from '../../geometry/bounds.js';
import { connected, connectedParts, distances, thinParts, where } from '../picture/raster.js';
import { robustLine } from '../picture/robust.js';
import { HAIR_MM, type Patch } from './patch.js';

/** One opening as it was found, against the same measures of what was asked; mm. */
export interface MeasuredOpening {
  /** What it was held against: of tips that the beam takes, less than was asked. */
  readonly drawn: MeasuredSizes;
  /** The picture ends within it. */
  readonly cutOff: boolean;
  /** The level of the film around it. */
  readonly film: number;
  readonly areaMm2: number;
  /** Undefined where a side is not there. */
  readonly widthMm?: number;
  readonly heightMm?: number;
  /** Where its middle lies beside its place, along X and Y. */
  readonly beside?: readonly [number, number];
  /** Scatter along its most ragged side. */
  readonly raggedMm: number;
  /** A slit runs from it into the film. */
  readonly slit: boolean;
  /** It sticks out of its outline, or film into it, for longer than a speck. */
  readonly tear: boolean;
  readonly bite: boolean;
  /** Film runs through the midst of it. */
  readonly divided: boolean;
  /** The index of another opening that it has grown together with. */
  readonly bridgedWith?: number;
}

/** What is within this belongs to an opening, unless another one is nearer, mm; and what counts for its area. */
const ROOM_MM = 0.3;
const AREA_ROOM_MM = 0.12;
/** A slit that is so open and runs so far out is no speck and no hair, mm; nor is one that takes two fifths of a web. */
const TORN_OPEN = 0.7;
const TORN_MM = 0.2;
const TORN_WEB_MM = 0.1;
const TORN_WEB_SHARE = 0.4;
/** So far beyond what an outline may be off it is looked whether film is there, mm; dust is shorter than a tear. */
const RIM_MM = 0.08;
const RIM_OPEN = 0.6;
const LEAST_TEAR_MM = 0.2;
/** Film that is so dense between two parts of an opening has not come out; a part is so much of it. */
const DIVIDED_OPEN = 0.4;
const PART = 0.1;

export interface MeasuredSizes {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly areaMm2: number;
}

/** @param drawn - along its own sides, as it is drawn on the patch */
export function measurePatch(patch: Patch, drawn: MeasuredSizes): MeasuredOpening {
  const { widthMm, heightMm, areaMm2 } = drawn;
  const { outside, toOther, seen, asked, stepMm, along, up } = patch;
  const strange = notOf(patch);
  const own = (at: number): boolean => outside[at] <= ROOM_MM && outside[at] <= toOther[at] && strange[at] === 0;
  // Nor is known what a hair's soft sides hide.
  const toStrange = distances(patch, (at) => strange[at] === 1);
  const hidden = (at: number): boolean => outside[at] > 0 && toStrange[at] <= HAIR_MM;
  let difference = 0;
  for (let at = 0; at < seen.length; at += 1)
    if (outside[at] <= AREA_ROOM_MM && outside[at] <= toOther[at] && !hidden(at)) difference += seen[at] - asked[at];
  const sides = sidesOf(patch, [widthMm, heightMm], own);
  const [right, left, upper, lower] = sides;
  const across = right && left && { grown: right.outMm + left.outMm, at: (right.outMm - left.outMm) / 2 };
  const upwards = upper && lower && { grown: upper.outMm + lower.outMm, at: (upper.outMm - lower.outMm) / 2 };
  return {
    ...{ drawn, cutOff: patch.cutOff, film: patch.film },
    areaMm2: Math.max(0, areaMm2 + difference * stepMm ** 2),
    widthMm: across && widthMm + across.grown,
    heightMm: upwards && heightMm + upwards.grown,
    beside: across && upwards && [across.at * along[0] + upwards.at * up[0], across.at * along[1] + upwards.at * up[1]],
    raggedMm: Math.max(...sides.map((side) => side?.spreadMm ?? 0)),
    slit: hasSlit(patch),
    tear: longestRun(patch, (at) => inBand(outside[at], stepMm) && own(at) && seen[at] > RIM_OPEN) > LEAST_TEAR_MM,
    bite: longestRun(patch, (at) => inBand(patch.inside[at], stepMm) && seen[at] < 1 - RIM_OPEN) > LEAST_TEAR_MM,
    divided: isDivided(patch),
    bridgedWith: bridge(patch),
  };
}

/**
 * What is open but hangs together with no part of the opening: specks, and neighbours that lie beside their place. And what
 * does, beyond its outline, but is thinner than what stands out of it: hairs that pass by. Those as open as a slit are slits.
 */
function notOf(patch: Patch): Uint8Array {
  const { seen, outside } = patch;
  const strange = Uint8Array.from(seen, (open) => (open > 0.5 ? 1 : 0));
  const seeds = where(patch, (at) => outside[at] === 0);
  const hangs = connected(patch, seeds, (k) => seen[k] > 0.5);
  for (const at of hangs) strange[at] = 0;
  if (!hangs.some((at) => outside[at] > HAIR_MM)) return strange;
  const [isOpen, isOwn] = [(at: number) => seen[at] > 0.5, (at: number) => outside[at] === 0];
  const isThin = thinParts(patch, isOpen, HAIR_MM, isOwn);
  for (const at of hangs) if (outside[at] > 0 && isThin(at)) strange[at] = 1;
  return strange;
}

const inner = (patch: Patch): number[] => where(patch, (at) => patch.outside[at] === 0 && patch.seen[at] > TORN_OPEN);

/** The index of another opening that can be reached without crossing film. */
export function bridge(patch: Patch): number | undefined {
  const { seen, other, toOther } = patch;
  if (!toOther.some((far) => far === 0)) return undefined;
  const at = connected(patch, inner(patch), (k) => seen[k] > TORN_OPEN).find((k) => other[k] >= 0);
  return at === undefined ? undefined : other[at];
}

/** What hangs together with an opening is its own beyond the middle of a web as well. */
function hasSlit(patch: Patch): boolean {
  const { seen, outside, toOther } = patch;
  const farOut = (at: number): boolean =>
    outside[at] > TORN_MM || (outside[at] > TORN_WEB_MM && outside[at] > TORN_WEB_SHARE * (outside[at] + toOther[at]));
  const slit = (at: number): boolean => seen[at] > TORN_OPEN && outside[at] <= ROOM_MM && toOther[at] > 0;
  return connected(patch, inner(patch), slit).some(farOut);
}

const inBand = (far: number, stepMm: number): boolean => far > RIM_MM && far <= RIM_MM + 1.5 * stepMm;

/** How far samples that hang together reach at most along X or Y of the patch, mm. */
function longestRun(patch: Patch, counts: (at: number) => boolean): number {
  const { columns, stepMm } = patch;
  const runs = [...connectedParts(patch, counts)].map((part) => {
    const { minX, minY, maxX, maxY } = ringBounds(part.map((at) => [at % columns, Math.floor(at / columns)]));
    return Math.max(maxX - minX, maxY - minY) + 1;
  });
  return Math.max(0, ...runs) * stepMm;
}

/** More than one part of a size, with film between. */
function isDivided(patch: Patch): boolean {
  const { seen, outside } = patch;
  const parts = [...connectedParts(patch, (at) => outside[at] === 0 && seen[at] > DIVIDED_OPEN)];
  const whole = parts.reduce((sum, { length }) => sum + length, 0);
  return parts.filter(({ length }) => length > PART * whole).length > 1;
}

/** One side of an opening: how far it lies from where it was asked, outwards, and how ragged it is, mm. */
interface FoundSide {
  readonly outMm: number;
  readonly spreadMm: number;
}

/** How much of its end, seen from outside, makes a side: of something round the outermost part of the arc, mm. */
const DEEP_MM = 0.1;
const DEEP_SHARE = 0.15;
const TRIM_MM = 0.15;
/** On fewer rows one hair is taken for raggedness. */
const LEAST_ROWS = 10;

/**
 * The sides of an opening as seen against those as asked, both by one rule: along rows of samples the outermost place where
 * the film is half open, and of all rows the place that half of the side's length reaches. So corners that blur rounds off,
 * specks and hairs count for nothing, and of an L, a U or a frame it is the outer walls that count.
 *
 * @param size - width and height as asked, along its own sides
 * @param own - samples that belong to this opening
 * @returns right, left, upper and lower one; undefined where too little of one is there
 */
function sidesOf(
  patch: Patch,
  [widthMm, heightMm]: readonly [number, number],
  own: (at: number) => boolean,
): (FoundSide | undefined)[] {
  const { columns, rows } = patch;
  type Line = (n: number, k: number) => number;
  const side = (lines: number, length: number, sizeMm: number, line: Line): FoundSide | undefined => {
    const reach = (data: Float32Array): number[] =>
      Array.from({ length: lines }, (_, n) => outermost(data, length, (k) => line(n, k), own));
    return sideOf(reach(patch.asked), reach(patch.seen), Math.min(DEEP_MM, DEEP_SHARE * sizeMm), patch.stepMm);
  };
  return [
    side(rows, columns, widthMm, (n, k) => n * columns + k),
    side(rows, columns, widthMm, (n, k) => (n + 1) * columns - 1 - k),
    side(columns, rows, heightMm, (n, k) => k * columns + n),
    side(columns, rows, heightMm, (n, k) => (rows - 1 - k) * columns + n),
  ];
}

/** The last place along a line of samples where they pass one half, in samples; -1 where none does. */
function outermost(
  data: Float32Array,
  length: number,
  at: (k: number) => number,
  own: (at: number) => boolean,
): number {
  for (let k = length - 1; k >= 0; k -= 1) {
    const value = data[at(k)];
    if (value <= 0.5 || !own(at(k))) continue;
    const next = k + 1 < length ? data[at(k + 1)] : 0;
    return next <= 0.5 ? k + (value - 0.5) / (value - next) : k + 0.5;
  }
  return -1;
}

function sideOf(
  asked: readonly number[],
  seen: readonly number[],
  deepMm: number,
  stepMm: number,
): FoundSide | undefined {
  const most = Math.max(...asked);
  if (most < 0) return undefined;
  const end = asked.flatMap((place, n) => (place >= most - Math.max(1, deepMm / stepMm) ? [n] : []));
  const half = Math.ceil(end.length / 2);
  const reached = (places: readonly number[]): number => [...places].sort((p, q) => q - p)[half - 1] ?? -1;
  const [wanted, found] = [reached(asked), reached(seen)];
  if (found < 0) return undefined;
  // A round beam rounds corners off, which is no raggedness: only the middle of a side tells of that.
  const trim = Math.min(TRIM_MM / stepMm, end.length / 4);
  const both = end.filter((n) => n >= end[0] + trim && n <= end[end.length - 1] - trim && seen[n] >= 0);
  const off = both.map((n) => seen[n] - asked[n]);
  const { spread } = both.length >= LEAST_ROWS ? robustLine(both, off, true) : { spread: 0 };
  return { outMm: (found - wanted) * stepMm, spreadMm: spread * stepMm };
}

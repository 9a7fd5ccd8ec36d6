import { isForJaws } from '../../coupon/features.js';
import type { Box } from '../../geometry/types.js';
import { weightedQr } from '../linear/weighted-qr.js';
import { type Term, termOf } from './design.js';
import { type Candidate, type Differing, dimensional, um } from './fault-candidate.js';
import type { Observation } from './observations.js';

type Axis = 'x' | 'y';
type Field = (x: number, y: number) => readonly [number, number];

/** Places that are off along one axis by what depends on one coordinate alone. */
function alongAxis(axis: Axis, off: (place: number) => number, by: Axis = axis): Field {
  return (x, y) => {
    const mm = off(by === 'x' ? x : y);
    return axis === 'x' ? [mm, 0] : [0, mm];
  };
}

/** What places that are off by a field do to each reading. */
function fieldTerm(
  name: string,
  lengths: readonly Observation[],
  field: Field,
  isMoved: (length: Observation) => boolean = () => true,
): Term {
  return termOf(name, lengths, (length) => {
    const feature = dimensional(length);
    if (!feature || !isMoved(length)) return 0;
    const [[ax, ay], [bx, by]] = [field(...feature.from), field(...feature.to)];
    const { dx, dy } = length;
    return ((bx - ax) * dx + (by - ay) * dy) / Math.hypot(dx, dy);
  });
}

/** Of a field, by small steps at the places of a grid over the bed. */
function differing(bed: Box, field: Field): Differing {
  const points = gridOver(bed);
  const step = 0.01;
  const slopes = points.map(([x, y]) => {
    const [[ax, ay], [bx, by], [cx, cy]] = [field(x, y), field(x + step, y), field(x, y + step)];
    // Squareness: verticals that lean, and horizontals that climb.
    return [(bx - ax) / step, (cy - ay) / step, (cx - ax + (by - ay)) / step];
  });
  return [0, 1, 2].map((k) => {
    const own = slopes.map((slope) => slope[k]);
    return [Math.min(...own), Math.max(...own)];
  });
}

interface Bend extends Omit<Candidate, 'terms' | 'say'> {
  readonly fields: readonly (readonly [name: string, field: Field])[];
  readonly isMoved?: (length: Observation) => boolean;
  /** @param off - how far pads land off, in words */
  say(sizes: readonly number[], off: string): string;
}

/** A fault that is a field, or the sum of several; a smooth one, unless it says itself what it comes to at most. */
function bend(lengths: readonly Observation[], bed: Box, { fields, isMoved, say, ...rest }: Bend): Candidate {
  const sumOf =
    (sizes: readonly number[]): Field =>
    (x, y) =>
      fields.reduce<readonly [number, number]>(
        ([u, v], [, field], k) => {
          const [p, q] = field(x, y);
          return [u + sizes[k] * p, v + sizes[k] * q];
        },
        [0, 0],
      );
  const { offMm = (sizes) => farthest(bed, sumOf(sizes)), differs = (sizes) => differing(bed, sumOf(sizes)) } = rest;
  return {
    ...rest,
    terms: fields.map(([name, field]) => fieldTerm(name, lengths, field, isMoved)),
    differs,
    offMm,
    say: (sizes) => say(sizes, um(offMm(sizes))),
  };
}

export function barrel(lengths: readonly Observation[], bed: Box): Candidate {
  const [cx, cy] = [(bed.minX + bed.maxX) / 2, (bed.minY + bed.maxY) / 2];
  const reach = Math.hypot(bed.maxX - cx, bed.maxY - cy);
  const field: Field = (x, y) => {
    const r2 = ((x - cx) ** 2 + (y - cy) ** 2) / reach ** 2;
    return [r2 * (x - cx), r2 * (y - cy)];
  };
  return bend(lengths, bed, {
    code: 'FIELD_BARREL',
    name: 'barrel or pincushion',
    named: { size: 0.001, words: 'a barrel or pincushion of 0.1 %' },
    fields: [['barrel', field]],
    say: ([size], off) =>
      `the scale ${size < 0 ? 'falls' : 'grows'} from the middle of the bed to its corners by ${(300 * Math.abs(size)).toFixed(2)} % (${size < 0 ? 'barrel' : 'pincushion'}), which the uncertainty of the scales holds: pads of a stencil that fills it land up to ${off} off, likely a deflected beam whose field is not corrected`,
    hint: 'Correct the field in the program of the machine, and cut new coupons; until then use the middle of the bed.',
  });
}

/** Scales that change over the bed anyhow, or in the plainest way: steps that grow along one axis. */
export function bent(lengths: readonly Observation[], bed: Box, axis?: Axis): Candidate {
  const name = axis?.toUpperCase();
  const squares = [(x: number) => x * x, (x: number, y: number) => x * y, (_: number, y: number) => y * y];
  const anyhow = squares.flatMap((square): Field[] => [
    (x, y) => [square(x / 100, y / 100), 0],
    (x, y) => [0, square(x / 100, y / 100)],
  ]);
  const fields = axis ? [alongAxis(axis, (at) => (at / 100) ** 2)] : anyhow;
  const [what, it, rail] = axis ? [`scale ${name} changes along ${name}`, 'the bed', ''] : ['the scale changes over the bed', 'it', ' a bent rail,']; // biome-ignore format: one choice
  return bend(lengths, bed, {
    code: 'FIELD_NOT_STRAIGHT',
    name: axis ? `scale ${name} that changes along ${name}` : 'scale or squareness that changes over the bed',
    ...(axis && { named: { size: 0.001 / (2 * (reachOf(bed, axis) / 1e4)), words: `a scale ${name} that grows by 0.1 % along ${name}` } }), // biome-ignore format: one record
    fields: fields.map((field, k) => [`bend ${axis ?? k}`, field]),
    say: (_, off) =>
      `${what}: pads of a stencil that fills ${it} land up to ${off} off, likely a worn belt, a slipping drum,${rail} film that was not flat, or what grew warm while it was cut`,
    hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
  });
}

const reachOf = ({ minX, maxX, minY, maxY }: Box, axis: Axis): number => (axis === 'x' ? maxX - minX : maxY - minY);

/** One of scale X, scale Y and shear that may be off by as much either way. */
const eitherWay = (number: number, most: number): Differing => [0, 1, 2].map((k) => (k === number ? [-most, most] : [0, 0])); // biome-ignore format: one thought

/** Periods of belts, pulleys and lead screws: from a few teeth to the whole bed, each a quarter longer than the last. */
const SHORTEST_PERIOD_MM = 8;
const PERIOD_STEP = 1.15;
/** Shorter waves of 0.1 % are too low to matter. */
const NAMED_PERIOD_MM = 38;

export function belts(lengths: readonly Observation[], bed: Box, axis: Axis): Candidate[] {
  const longest = reachOf(bed, axis);
  const name = axis.toUpperCase();
  const candidates: Candidate[] = [];
  for (let period = SHORTEST_PERIOD_MM; period <= longest; period *= PERIOD_STEP) {
    const turn = (2 * Math.PI) / period;
    const wave = (shift: number) => [`wave ${axis} ${period} ${shift}`, alongAxis(axis, (at) => Math.sin(turn * at + shift))] as const; // biome-ignore format: one thought
    const words = `waves of 0.1 % along ${name}, as of a belt or pulley`;
    const wide: Bend = {
      code: 'FIELD_WAVES',
      ...(period < NAMED_PERIOD_MM ? {} : { named: { size: 0.001 / turn, words } }),
      // They add up to no more than this over the bed, whatever the slope of a single one.
      differs: ([a, b]) => eitherWay(axis === 'x' ? 0 : 1, (2 * Math.hypot(a, b)) / longest),
      offMm: ([a, b]) => 2 * Math.hypot(a, b),
      name: `places along ${name} that come and go in waves`,
      fields: [wave(0), wave(Math.PI / 2)],
      say: ([a, b], off) =>
        `places along ${name} come and go by ± ${um(Math.hypot(a, b))} every ${period.toFixed(0)} mm or so: pads land up to ${off} off against each other, likely a pulley that runs out of true, or a belt`,
      hint: 'Look at pulley, belt and screw of this axis; the profile holds the mean of the waves only.',
    };
    candidates.push(bend(lengths, bed, wide));
  }
  return candidates;
}

/** Edges of spans nearer to each other than this, mm, leave no room to say between which of them an axis slipped. */
const LEAST_GAP_MM = 2;

/** An axis that skipped, or film that moved, while the coupon was cut: all beyond a place is off by a constant. */
export function slips(lengths: readonly Observation[], bed: Box, axis: Axis, by: Axis): Candidate[] {
  const [place, moved] = [by, axis].map((name) => (name === 'x' ? 0 : 1));
  // Only what lies across a slip, and along what it moves, tells where it is: an edge of a span stands for all places since
  // the one before it, and would tear openings of a ladder there that the slip left whole.
  const isLong = ({ kind, feature }: Observation): boolean => kind === 'span' || isForJaws(feature);
  const ends = lengths.filter(isLong).flatMap(({ feature }) => {
    if (!('from' in feature)) return [];
    const { from, to } = feature;
    return from[place] === to[place] || from[moved] === to[moved] ? [] : [from[place], to[place]];
  });
  const edges = [...new Set(ends)].sort((a, b) => a - b);
  const number = axis === by ? (axis === 'x' ? 0 : 1) : 2;
  return edges.slice(1).flatMap((edge, i): Candidate[] => {
    const before = edges[i];
    if (edge - before < LEAST_GAP_MM) return [];
    const [low, high] = [before, edge].map((mm) => mm.toFixed(0));
    const slip: Bend = {
      code: 'FIELD_SLIPS',
      name: `places along ${axis.toUpperCase()} that jump somewhere along ${by.toUpperCase()}`,
      fields: [[`slip ${axis} at ${by} ${edge}`, alongAxis(axis, (at) => (at >= edge ? 1 : 0), by)]],
      isMoved: isLong,
      differs: ([size]) => eitherWay(number, Math.abs(size) / reachOf(bed, by)),
      offMm: ([size]) => Math.abs(size),
      say: ([size], off) =>
        `from ${by.toUpperCase()} = ${low} to ${high} mm on everything lies ${off} too far ${(axis === 'x' ? ['left', 'right'] : ['down', 'up'])[size > 0 ? 1 : 0]}: pads before and behind are off by that against each other, likely an axis that lost steps, a belt that skipped, or film that moved, or shrank there, while it was cut`,
      hint: 'Look at the belt and its tension, hold the film down, and cut new coupons: a slip comes anywhere, so no profile corrects it.',
    };
    return [bend(lengths, bed, slip)];
  });
}

function gridOver({ minX, maxX, minY, maxY }: Box): [number, number][] {
  const steps = [0, 1, 2, 3, 4].map((k) => k / 4);
  return steps.flatMap((s) => steps.map((t): [number, number] => [minX + s * (maxX - minX), minY + t * (maxY - minY)]));
}

/** How far the farthest corner of a grid over the bed is off, once the best straight map is taken out, mm. */
function farthest(bed: Box, field: Field): number {
  const points = gridOver(bed);
  const columns = [() => 1, ([x]: number[]) => x / 100, ([, y]: number[]) => y / 100].map((term) =>
    Float64Array.from(points, (p) => term(p)),
  );
  const ones = new Float64Array(points.length).fill(1);
  const off = [0, 1].map((axis) => {
    const values = Float64Array.from(points, ([x, y]) => field(x, y)[axis]);
    const { solution } = weightedQr(columns, values, ones);
    return values.map((value, i) => value - columns.reduce((sum, column, k) => sum + column[i] * solution[k], 0));
  });
  return Math.max(...points.map((_, i) => Math.hypot(off[0][i], off[1][i])));
}

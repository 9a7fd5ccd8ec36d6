import type { DimensionalFeature } from '../../coupon/features.js';
import { weightedQr } from '../linear/weighted-qr.js';
import type { Term } from './design.js';
import { zeroTerm } from './determined.js';
import { KERF_SIGN } from './length-model.js';
import type { Observation } from './observations.js';

/** Where the readings were taken, mm as commanded. */
export interface Bed {
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
}

/** One shape that a fault can have. */
export interface Candidate {
  readonly code: string;
  readonly name: string;
  readonly terms: readonly Term[];
  /** What it does to a stencil, by the sizes found. */
  say(sizes: readonly number[]): string;
  readonly hint: string;
  /** The gauge, where it is the gauge and not the machine that is off. */
  readonly gauge?: string;
  /** The kerf differs from opening to opening; places are right. */
  readonly ofKerf?: boolean;
  /** What anybody would want to know of: the size of the terms together, and that in words. */
  readonly named?: { readonly size: number; readonly words: string };
  /** How much scale and squareness differ from place to place because of it: by its sizes. */
  differs?(sizes: readonly number[]): Differing;
}

/** Lowest and highest of what comes on top of scale X, scale Y and shear somewhere on the bed. */
export type Differing = readonly (readonly [low: number, high: number])[];

type Field = (x: number, y: number) => readonly [number, number];

const um = (mm: number): string => `${(1000 * Math.abs(mm)).toFixed(0)} µm`;

export function bedOf(lengths: readonly Observation[]): Bed {
  const points = lengths.flatMap(({ feature }) => ('from' in feature ? [feature.from, feature.to] : []));
  const range = (axis: 0 | 1): [number, number] =>
    points.reduce<[number, number]>(
      ([low, high], p) => [Math.min(low, p[axis]), Math.max(high, p[axis])],
      [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY],
    );
  const [[minX, maxX], [minY, maxY]] = [range(0), range(1)];
  return { minX, maxX, minY, maxY };
}

/**
 * All faults that are looked for; each as one shape or as several of which the best is taken. Some have nothing to show
 * themselves in: columns of zeros.
 */
export function candidatesFor(lengths: readonly Observation[], bed: Bed): Candidate[][] {
  if (!(bed.maxX > bed.minX) && !(bed.maxY > bed.minY)) return [];
  return [
    [barrel(lengths, bed)],
    [bentAlong(lengths, bed, 'x')],
    [bentAlong(lengths, bed, 'y')],
    [bent(lengths, bed)],
    belts(lengths, bed, 'x'),
    belts(lengths, bed, 'y'),
    [kerfAcross(lengths, bed, 'x')],
    [kerfAcross(lengths, bed, 'y')],
    SMALL_MM.map((limit) => smallOpenings(lengths, limit)),
    [shapes(lengths, 'square')],
    [shapes(lengths, 'circle')],
    ...otherSettings(lengths),
  ].filter((choices) => choices.length > 0);
}

/** A gauge that reads too much or too little everywhere. */
export function zeroOf(lengths: readonly Observation[], gauge: string): Candidate {
  return {
    code: 'GAUGE_ZERO_OFF',
    name: `zero of ${gauge}`,
    terms: [zeroTerm(lengths, gauge)],
    say: ([size]) => `${gauge} are off by ${um(size)}`,
    hint: 'Check the zero of the gauge.',
    gauge,
  };
}

function dimensional({ feature, kind }: Observation): DimensionalFeature | undefined {
  return 'from' in feature && kind !== 'vernier' ? feature : undefined;
}

/** What places that are off by a field do to each reading. */
function fieldTerm(name: string, lengths: readonly Observation[], field: Field): Term {
  const column = Float64Array.from(lengths, (length) => {
    const feature = dimensional(length);
    if (!feature) return 0;
    const [a, b] = [field(...xy(feature.from)), field(...xy(feature.to))];
    const { dx, dy } = length;
    return ((b[0] - a[0]) * dx + (b[1] - a[1]) * dy) / Math.hypot(dx, dy);
  });
  return { name, column };
}

/** The same for places that are off along one axis by what depends on that axis alone; many such are tried. */
function alongTerms(lengths: readonly Observation[], axis: 'x' | 'y') {
  const place = axis === 'x' ? 0 : 1;
  const ends = lengths.map((length) => {
    const feature = dimensional(length);
    const { dx, dy } = length;
    return feature && { a: feature.from[place], b: feature.to[place], share: (axis === 'x' ? dx : dy) / Math.hypot(dx, dy) }; // biome-ignore format: one record
  });
  return (name: string, off: (place: number) => number): Term => {
    const column = new Float64Array(ends.length);
    ends.forEach((own, i) => {
      if (own) column[i] = (off(own.b) - off(own.a)) * own.share;
    });
    return { name, column };
  };
}

const times = (size: number, [x, y]: readonly [number, number]): readonly [number, number] => [size * x, size * y];

const xy = ([x, y]: readonly [number, number]): [number, number] => [x, y];

function middle({ minX, maxX, minY, maxY }: Bed): [number, number] {
  return [(minX + maxX) / 2, (minY + maxY) / 2];
}

/** Of a field, by small steps at the places of a grid over the bed. */
function differing(bed: Bed, field: Field): Differing {
  const points = gridOver(bed);
  const step = 0.01;
  const slopes = points.map(([x, y]) => {
    const [[ax, ay], [bx], [cx, cy]] = [field(x, y), field(x + step, y), field(x, y + step)];
    // Squareness: verticals that lean, and horizontals that climb.
    return [(bx - ax) / step, (cy - ay) / step, (cx - ax + (field(x + step, y)[1] - ay)) / step];
  });
  return [0, 1, 2].map((k) => {
    const own = slopes.map((slope) => slope[k]);
    return [Math.min(...own), Math.max(...own)];
  });
}

function barrel(lengths: readonly Observation[], bed: Bed): Candidate {
  const [cx, cy] = middle(bed);
  const reach = Math.hypot(bed.maxX - cx, bed.maxY - cy);
  const field: Field = (x, y) => {
    const r2 = ((x - cx) ** 2 + (y - cy) ** 2) / reach ** 2;
    return [r2 * (x - cx), r2 * (y - cy)];
  };
  return {
    code: 'FIELD_BARREL',
    name: 'barrel or pincushion',
    named: { size: 0.001, words: 'a barrel or pincushion of 0.1 %' },
    differs: ([size]) => differing(bed, (x, y) => times(size, field(x, y))),
    terms: [fieldTerm('barrel', lengths, field)],
    say: ([size]) =>
      `the scale ${size < 0 ? 'falls' : 'grows'} from the middle of the bed to its corners by ${(300 * Math.abs(size)).toFixed(2)} % (${size < 0 ? 'barrel' : 'pincushion'}), which the uncertainty of the scales holds: pads of a stencil that fills it land up to ${um(size * farthest(bed, field))} off, likely a deflected beam whose field is not corrected`,
    hint: 'Correct the field in the program of the machine, and cut new coupons; until then use the middle of the bed.',
  };
}

function bent(lengths: readonly Observation[], bed: Bed): Candidate {
  const terms = [(x: number) => x * x, (x: number, y: number) => x * y, (_: number, y: number) => y * y];
  const fields = terms.flatMap((term): Field[] => [
    (x, y) => [term(x / 100, y / 100), 0],
    (x, y) => [0, term(x / 100, y / 100)],
  ]);
  const fieldOf =
    (sizes: readonly number[]): Field =>
    (x, y) =>
      [0, 1].map((axis) => sizes.reduce((sum, size, k) => sum + size * fields[k](x, y)[axis], 0)) as [number, number];
  return {
    code: 'FIELD_NOT_STRAIGHT',
    name: 'scale or squareness that changes over the bed',
    terms: fields.map((field, k) => fieldTerm(`bend ${k}`, lengths, field)),
    differs: (sizes) => differing(bed, fieldOf(sizes)),
    say: (sizes) =>
      `the scale changes over the bed: pads of a stencil that fills it land up to ${um(farthest(bed, fieldOf(sizes)))} off, likely a worn belt, a slipping drum, a bent rail, or film that was not flat`,
    hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
  };
}

/** The plainest bend: steps that grow along one axis. */
function bentAlong(lengths: readonly Observation[], bed: Bed, axis: 'x' | 'y'): Candidate {
  const field: Field = (x, y) => (axis === 'x' ? [(x / 100) ** 2, 0] : [0, (y / 100) ** 2]);
  const name = axis.toUpperCase();
  const reach = axis === 'x' ? bed.maxX - bed.minX : bed.maxY - bed.minY;
  return {
    code: 'FIELD_NOT_STRAIGHT',
    name: `scale ${name} that changes along ${name}`,
    named: { size: 0.001 / (2 * (reach / 1e4)), words: `a scale ${name} that grows by 0.1 % along ${name}` },
    differs: ([size]) => differing(bed, (x, y) => times(size, field(x, y))),
    terms: [fieldTerm(`bend along ${axis}`, lengths, field)],
    say: ([size]) =>
      `scale ${name} changes along ${name}: pads of a stencil that fills the bed land up to ${um(size * farthest(bed, field))} off, likely a worn belt, a slipping drum, or film that was not flat`,
    hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
  };
}

/** Periods of belts, pulleys and lead screws: from a few teeth to the whole bed, each a quarter longer than the last. */
const SHORTEST_PERIOD_MM = 8;
const PERIOD_STEP = 1.15;
/** Shorter waves of 0.1 % are too low to matter. */
const NAMED_PERIOD_MM = 38;

function belts(lengths: readonly Observation[], bed: Bed, axis: 'x' | 'y'): Candidate[] {
  const longest = axis === 'x' ? bed.maxX - bed.minX : bed.maxY - bed.minY;
  const candidates: Candidate[] = [];
  const termOf = alongTerms(lengths, axis);
  for (let period = SHORTEST_PERIOD_MM; period <= longest; period *= PERIOD_STEP) {
    const wave =
      (shift: number) =>
      (place: number): number =>
        Math.sin((2 * Math.PI * place) / period + shift);
    const slope = (2 * Math.PI) / period;
    candidates.push({
      code: 'FIELD_WAVES',
      ...(period < NAMED_PERIOD_MM
        ? {}
        : {
            named: { size: 0.001 / slope, words: `waves of 0.1 % along ${axis.toUpperCase()}, as of a belt or pulley` },
          }),
      differs: ([a, b]) => {
        // They add up to no more than this over the bed, whatever the slope of a single one.
        const most = (2 * Math.hypot(a, b)) / longest;
        const none: [number, number] = [0, 0];
        return axis === 'x' ? [[-most, most], none, none] : [none, [-most, most], none];
      },
      name: `places along ${axis.toUpperCase()} that come and go in waves`,
      terms: [0, Math.PI / 2].map((shift) => termOf(`wave ${axis} ${period} ${shift}`, wave(shift))),
      say: ([a, b]) =>
        `places along ${axis.toUpperCase()} come and go by ± ${um(Math.hypot(a, b))} every ${period.toFixed(0)} mm or so: pads land up to ${um(2 * Math.hypot(a, b))} off against each other, likely a pulley that runs out of true, or a belt`,
      hint: 'Look at pulley, belt and screw of this axis; the profile holds the mean of the waves only.',
    });
  }
  return candidates;
}

function kerfAcross(lengths: readonly Observation[], bed: Bed, axis: 'x' | 'y'): Candidate {
  const [low, high] = axis === 'x' ? [bed.minX, bed.maxX] : [bed.minY, bed.maxY];
  const place = axis === 'x' ? 0 : 1;
  const column = Float64Array.from(lengths, (length) => {
    const feature = dimensional(length);
    if (!feature || high <= low) return 0;
    const [from, to] = [feature.from[place], feature.to[place]];
    // The two edges of a span, on the same side of their openings, move by half of what the kerf differs there.
    if (length.kind === 'span') return ((feature.side === 'far' ? to - from : from - to) / (high - low)) * 0.5;
    return (KERF_SIGN[length.kind] * ((from + to) / 2 - low - (high - low) / 2)) / (high - low);
  });
  const [far, near] = axis === 'x' ? ['right', 'left'] : ['upper', 'lower'];
  return {
    code: 'KERF_ACROSS_BED',
    ofKerf: true,
    named: { size: 0.05, words: `a kerf that differs by 50 µm between ${near} and ${far}` },
    name: `kerf that differs between ${near} and ${far}`,
    terms: [{ name: `kerf along ${axis}`, column }],
    say: ([size]) =>
      `cuts are ${um(size)} wider at the ${size > 0 ? far : near} end of the bed than at the ${size > 0 ? near : far} one: openings there come out up to ${um(size / 2)} from what is corrected for, likely a bed or film that is not level, or mirrors that are not aligned`,
    hint: 'Level the bed, align the beam, and cut the ladder again; until then cut stencils where the ladder was read.',
  };
}

/** Openings up to these sizes as told, mm, may have another kerf. */
const NAMED_SMALL_MM = 0.32;
const SMALL_MM = [0.22, NAMED_SMALL_MM, 0.52];

function smallOpenings(lengths: readonly Observation[], limit: number): Candidate {
  const column = Float64Array.from(lengths, ({ kind, nominalMm }) =>
    kind === 'opening' && nominalMm <= limit ? 1 : 0,
  );
  return {
    code: 'KERF_BY_SIZE',
    ofKerf: true,
    ...(limit === NAMED_SMALL_MM ? { named: { size: 0.01, words: 'small openings with 10 µm less kerf' } } : {}),
    name: 'kerf that differs in small openings',
    terms: [{ name: `openings to ${limit} mm`, column }],
    say: ([size]) =>
      `openings told ${limit.toFixed(1)} mm wide or less come out ${um(size)} ${size < 0 ? 'narrower' : 'wider'} than the kerf says: fine pads of a stencil are off by as much, likely ${size < 0 ? 'a beam that is slow to come on, or walls that shade the edges' : 'heat that gathers in small openings'}`,
    hint: 'Correct fine pads with a profile fitted to small openings only, or give them a rule of their own.',
  };
}

function shapes(lengths: readonly Observation[], shape: 'square' | 'circle'): Candidate {
  const column = Float64Array.from(lengths, (length) => (dimensional(length)?.shape === shape ? 1 : 0));
  const many = shape === 'square' ? 'squares' : 'circles';
  return {
    code: 'SHAPES_DIFFER',
    ofKerf: true,
    named: { size: 0.01, words: `${many} that differ from slots by 10 µm` },
    name: `${many} that are cut unlike slots`,
    terms: [{ name: many, column }],
    say: ([size]) =>
      `${many} come out ${um(size)} ${size < 0 ? 'narrower' : 'wider'} than slots of the same width: pads of like shape are off by as much, likely lines too short for the machine to reach its speed`,
    hint: 'Cut slower, so that short lines are cut as long ones are, or give such pads a rule of their own.',
  };
}

/**
 * Coupons of one day cut with unlike power, speed, focus or film: one kerf against the other's. What days differ by is
 * looked for elsewhere.
 */
function otherSettings(lengths: readonly Observation[]): Candidate[][] {
  const sign = (length: Observation): number => KERF_SIGN[length.kind];
  if (new Set(lengths.map(({ date }) => date)).size > 1) return [];
  const coupons = [...new Set(lengths.filter((length) => sign(length) !== 0).map(({ coupon }) => coupon))];
  return coupons.slice(1).map((coupon) => [
    {
      code: 'KERF_BY_COUPON',
      name: `kerf of ${coupon} that differs from that of ${coupons[0]}`,
      named: { size: 0.02, words: `${coupon} cut at another power than ${coupons[0]} (20 µm of kerf)` },
      terms: [
        {
          name: `kerf of ${coupon}`,
          column: Float64Array.from(lengths, (length) => (length.coupon === coupon ? sign(length) : 0)),
        },
      ],
      say: ([size]) =>
        `cuts of ${coupon} are ${um(size)} ${size < 0 ? 'narrower' : 'wider'} than those of ${coupons[0]}: they were cut with unlike power, speed, focus or film, or read with unlike gauges`,
      hint: 'Cut both coupons with the settings of the stencils, one after the other, and read them with one gauge.',
    },
  ]);
}

function gridOver({ minX, maxX, minY, maxY }: Bed): [number, number][] {
  const steps = [0, 1, 2, 3, 4].map((k) => k / 4);
  return steps.flatMap((s) => steps.map((t): [number, number] => [minX + s * (maxX - minX), minY + t * (maxY - minY)]));
}

/** How far the farthest corner of a grid over the bed is off, once the best straight map is taken out, mm. */
function farthest(bed: Bed, field: Field): number {
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

import { weightedQr } from '../linear/weighted-qr.js';
import type { Term } from './design.js';
import { type Bed, type Candidate, type Differing, dimensional, um } from './fault-candidate.js';
import type { Observation } from './observations.js';

type Axis = 'x' | 'y';
type Field = (x: number, y: number) => readonly [number, number];

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

/** The same for places that are off along one axis by what depends on one coordinate alone; many such are tried. */
function alongTerms(lengths: readonly Observation[], axis: Axis, by: Axis = axis) {
  const place = by === 'x' ? 0 : 1;
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

export function barrel(lengths: readonly Observation[], bed: Bed): Candidate {
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
    offMm: ([size]) => Math.abs(size) * farthest(bed, field),
    terms: [fieldTerm('barrel', lengths, field)],
    say: ([size]) =>
      `the scale ${size < 0 ? 'falls' : 'grows'} from the middle of the bed to its corners by ${(300 * Math.abs(size)).toFixed(2)} % (${size < 0 ? 'barrel' : 'pincushion'}), which the uncertainty of the scales holds: pads of a stencil that fills it land up to ${um(size * farthest(bed, field))} off, likely a deflected beam whose field is not corrected`,
    hint: 'Correct the field in the program of the machine, and cut new coupons; until then use the middle of the bed.',
  };
}

export function bent(lengths: readonly Observation[], bed: Bed): Candidate {
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
    offMm: (sizes) => farthest(bed, fieldOf(sizes)),
    say: (sizes) =>
      `the scale changes over the bed: pads of a stencil that fills it land up to ${um(farthest(bed, fieldOf(sizes)))} off, likely a worn belt, a slipping drum, a bent rail, film that was not flat, or what grew warm while it was cut`,
    hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
  };
}

/** The plainest bend: steps that grow along one axis. */
export function bentAlong(lengths: readonly Observation[], bed: Bed, axis: Axis): Candidate {
  const field: Field = (x, y) => (axis === 'x' ? [(x / 100) ** 2, 0] : [0, (y / 100) ** 2]);
  const name = axis.toUpperCase();
  const reach = axis === 'x' ? bed.maxX - bed.minX : bed.maxY - bed.minY;
  return {
    code: 'FIELD_NOT_STRAIGHT',
    name: `scale ${name} that changes along ${name}`,
    named: { size: 0.001 / (2 * (reach / 1e4)), words: `a scale ${name} that grows by 0.1 % along ${name}` },
    differs: ([size]) => differing(bed, (x, y) => times(size, field(x, y))),
    offMm: ([size]) => Math.abs(size) * farthest(bed, field),
    terms: [fieldTerm(`bend along ${axis}`, lengths, field)],
    say: ([size]) =>
      `scale ${name} changes along ${name}: pads of a stencil that fills the bed land up to ${um(size * farthest(bed, field))} off, likely a worn belt, a slipping drum, film that was not flat, or what grew warm while it was cut`,
    hint: 'Use the part of the bed where the coupon was good, or cut a coupon where the stencils will be cut.',
  };
}

/** Periods of belts, pulleys and lead screws: from a few teeth to the whole bed, each a quarter longer than the last. */
const SHORTEST_PERIOD_MM = 8;
const PERIOD_STEP = 1.15;
/** Shorter waves of 0.1 % are too low to matter. */
const NAMED_PERIOD_MM = 38;

export function belts(lengths: readonly Observation[], bed: Bed, axis: Axis): Candidate[] {
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
      offMm: ([a, b]) => 2 * Math.hypot(a, b),
      name: `places along ${axis.toUpperCase()} that come and go in waves`,
      terms: [0, Math.PI / 2].map((shift) => termOf(`wave ${axis} ${period} ${shift}`, wave(shift))),
      say: ([a, b]) =>
        `places along ${axis.toUpperCase()} come and go by ± ${um(Math.hypot(a, b))} every ${period.toFixed(0)} mm or so: pads land up to ${um(2 * Math.hypot(a, b))} off against each other, likely a pulley that runs out of true, or a belt`,
      hint: 'Look at pulley, belt and screw of this axis; the profile holds the mean of the waves only.',
    });
  }
  return candidates;
}

/** Edges of spans nearer to each other than this, mm, leave no room to say between which of them an axis slipped. */
const LEAST_GAP_MM = 2;

/** An axis that skipped, or film that moved, while the coupon was cut: all beyond a place is off by a constant. */
export function slips(lengths: readonly Observation[], bed: Bed, axis: Axis, by: Axis): Candidate[] {
  const [place, moved] = [by, axis].map((name) => (name === 'x' ? 0 : 1));
  // Only spans that lie across a slip, and along what it moves, tell where it is.
  const ends = lengths.flatMap(({ kind, feature }) => {
    if (kind !== 'span' || !('from' in feature)) return [];
    const { from, to } = feature;
    return from[place] === to[place] || from[moved] === to[moved] ? [] : [from[place], to[place]];
  });
  const edges = [...new Set(ends)].sort((a, b) => a - b);
  const termOf = alongTerms(lengths, axis, by);
  const reach = by === 'x' ? bed.maxX - bed.minX : bed.maxY - bed.minY;
  const number = axis === by ? (axis === 'x' ? 0 : 1) : 2;
  return edges.slice(1).flatMap((edge, i): Candidate[] => {
    const before = edges[i];
    if (edge - before < LEAST_GAP_MM) return [];
    const [low, high] = [before, edge].map((mm) => mm.toFixed(0));
    return [
      {
        code: 'FIELD_SLIPS',
        name: `places along ${axis.toUpperCase()} that jump somewhere along ${by.toUpperCase()}`,
        terms: [termOf(`slip ${axis} at ${by} ${edge}`, (at) => (at >= edge ? 1 : 0))],
        differs: ([size]) => [0, 1, 2].map((k) => (k === number ? [-Math.abs(size) / reach, Math.abs(size) / reach] : [0, 0])), // biome-ignore format: one thought
        offMm: ([size]) => Math.abs(size),
        say: ([size]) =>
          `from ${by.toUpperCase()} = ${low} to ${high} mm on everything lies ${um(size)} too far ${(axis === 'x' ? ['left', 'right'] : ['down', 'up'])[size > 0 ? 1 : 0]}: pads before and behind are off by that against each other, likely an axis that lost steps, a belt that skipped, or film that moved while it was cut`,
        hint: 'Look at the belt and its tension, hold the film down, and cut new coupons: a slip comes anywhere, so no profile corrects it.',
      },
    ];
  });
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

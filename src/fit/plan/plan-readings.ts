import { axisAlong, type DimensionalFeature, type Feature, vectorOf } from '../../coupon/features.js';
import { byParameter, PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { KERF_SIGN, predictLength } from '../calibration/design.js';
import { dot } from '../linear/weighted-qr.js';

/** The gauge at hand. */
export interface PlanGauge {
  /** Standard deviation of one reading: hand, edge and gauge, mm. */
  readonly noiseMm: number;
  /** One step of the gauge, mm. */
  readonly resolutionMm: number;
  /** Longest length that it reaches, mm. */
  readonly reachMm: number;
  /** How much it may read too wide or too narrow throughout, standard deviation, mm; it is fitted with the rest. */
  readonly zeroMm: number;
  /** How lengths along the axes are taken: edges of one side sighted (default), or windows gripped by a caliper's jaws. */
  readonly takes?: 'edges' | 'windows' | 'both';
}

/** Half-widths of the 95 % intervals. */
type HalfWidths = Readonly<Record<ParameterName, number>>;

/** A length, and what is reached once this and everything before it has been read. */
type Planned = { readonly feature: DimensionalFeature; readonly reached: HalfWidths };

export interface PlanOptions {
  readonly gauge?: Partial<PlanGauge>;
  /** Half-widths that are enough. */
  readonly targets?: Partial<HalfWidths>;
  /** What has been read, one entry a reading. */
  readonly already?: readonly DimensionalFeature[];
}

/** Lengths of a coupon: those that were seen to be gone or closed can't be read. */
export function lengthsThere({ features, readings }: ReadingSession): DimensionalFeature[] {
  const missing = new Set(readings.flatMap(({ feature, outcome, dropped }) => (outcome && !dropped ? feature : [])));
  return features.filter((one): one is DimensionalFeature => 'from' in one && !missing.has(one.id));
}

/** A caliper that reaches 150 mm, or a loupe with a scale, in a steady hand: 5 µm all together (common practice). */
export const USUAL_GAUGE: PlanGauge = { noiseMm: 0.005, resolutionMm: 0, reachMm: 150, zeroMm: 0.02 };

/**
 * What is known of hands before their readings are looked at: what they scatter by without the steps of a gauge, mm,
 * between careful ones at 5 µm and others at 8 (common practice), and how many readings that is worth. A few may agree, or
 * not, by chance.
 */
export const HAND_MM = 0.0065;
export const HANDS_KNOWN = 10;

/** What readings are likely to scatter by, after so many to spare that did by so much, mm. */
export function likelyNoiseMm(
  { dof, residualSdMm }: { readonly dof: number; readonly residualSdMm: number },
  usualMm: number,
): number {
  const spare = Math.max(0, dof);
  return Math.sqrt((HANDS_KNOWN * usualMm ** 2 + spare * residualSdMm ** 2) / (HANDS_KNOWN + spare));
}

export const USUAL_TARGETS: HalfWidths = { scaleX: 1e-4, scaleY: 1e-4, shear: 2e-4, kerfXMm: 0.004, kerfYMm: 0.004 };

/** A machine as good as any: derivatives hardly depend on it. */
const NOMINAL = [1, 1, 0, 0.12, 0.12];
/** What is known before anything is read, standard deviations: hardly anything. */
const PRIOR = [0.02, 0.02, 0.02, 0.1, 0.1];
/** Where the spans are on another coupon, that coupon tells the scale. */
const SCALE_ELSEWHERE = 1e-4;
/** Student's t of 95 % with the twenty degrees of freedom that such a plan leaves. */
const FACTOR_95 = 2.09;
/** A reading that decides more than this share of its own prediction hides its own slip. */
const MOST_LEVERAGE = 0.7;
/** More than this nobody reads at first, whether the targets are reached or not. */
export const MOST_FIRST = 25;
/** A slip among fewer can't be told. */
const FEWEST_FIRST = 12;
/** As good as all that can be read. */
const NEARLY = 1.15;
/** Thinner ones may be gone or closed, whatever the kerf. */
const LEAST_WEB_MM = 0.25;
const LEAST_OPENING_MM = 0.15;

/**
 * In which order to read, so that as few readings as possible are enough: at each step the length that brings the
 * numbers nearest to their targets, and of those as good the one farthest from what was read already. The gauge's zero
 * is a number of its own for spans and for widths, so that long spans are paired with short ones and openings with webs.
 *
 * @param features - of one coupon or of several together; what is no length is passed over
 * @remarks Greedy A-optimal design, parameters in units of their targets, rank-one updates of the covariance (V. V.
 *   Fedorov, Theory of Optimal Experiments, Academic Press 1972); the fourth power makes the worst number count most.
 * @example planReadings(features).order.length
 */
export function planReadings(features: readonly Feature[], options: PlanOptions = {}) {
  const gauge = { ...USUAL_GAUGE, ...options.gauge };
  const targets = { ...USUAL_TARGETS, ...options.targets };
  const lengths = features.filter((feature): feature is DimensionalFeature => 'from' in feature);
  const already = new Set(options.already);
  const variance = gauge.noiseMm ** 2 + gauge.resolutionMm ** 2 / 12;
  const rows = new Map(lengths.map((feature) => [feature, rowOf(feature)]));
  const determined = determinedBy(lengths);
  const knowledge = start(lengths, gauge);
  const read: Float64Array[] = [];
  const take = (feature: DimensionalFeature): void => {
    const row = rows.get(feature) ?? rowOf(feature);
    read.push(row);
    learn(knowledge, row, variance);
  };
  for (const feature of options.already ?? []) take(feature);
  const before = halfWidths(knowledge);
  const rest = lengths.filter((feature) => !already.has(feature));
  const gripped = rest.filter((feature) => sure(feature, gauge));
  const sighted = rest.filter((feature) => !gripped.includes(feature) && sure(feature, eyesToo(gauge)));
  const order: Planned[] = [];
  const chosen: DimensionalFeature[] = [...already];
  const isReached = (): boolean => determined.every((name) => halfWidths(knowledge)[name] <= targets[name]);
  const isSafe = (): boolean => mostLeverage(knowledge, read, variance) <= MOST_LEVERAGE;
  let first = 0;
  let open = !(isReached() && isSafe());
  const readOut = (pool: readonly DimensionalFeature[]): void => {
    const left = new Set(pool);
    while (left.size > 0) {
      const score = open && isReached() ? leverageAfter(knowledge, read, variance) : missAfter(knowledge, determined, targets, variance); // biome-ignore format: one thought
      const feature = spreadChoice([...left], (one) => score(rows.get(one)!), chosen);
      left.delete(feature);
      chosen.push(feature);
      take(feature);
      order.push({ feature, reached: halfWidths(knowledge) });
      if (open) first = order.length;
      if (open && ((isReached() && isSafe()) || order.length + already.size >= MOST_FIRST)) open = false;
    }
  };
  readOut(gripped);
  if (open) first = Math.max(Math.min(first, FEWEST_FIRST - already.size), tellingOnes(before, order, determined, targets)); // biome-ignore format: one thought
  const atFirst = first > 0 ? order[first - 1].reached : before;
  open = false;
  readOut(sighted);
  const unsure = rest.filter((feature) => !gripped.includes(feature) && !sighted.includes(feature));
  for (const feature of unsure) {
    take(feature);
    order.push({ feature, reached: halfWidths(knowledge) });
  }
  return {
    /** Every length that is not read yet, the most telling first. */
    order,
    /** So many of them can be read for certain, the way this gauge takes lengths. */
    sure: gripped.length,
    /** These, and edges that are sighted where its jaws grip nothing. */
    readable: gripped.length + sighted.length,
    /** So many of them are enough: they reach the targets, and one wrong reading among them can be seen. */
    first,
    /** The numbers that these features can tell at all. */
    determined,
    /** Whether the targets are reached after `first`; if not, the features or the gauge don't give more. */
    reaches: determined.every((name) => atFirst[name] <= targets[name]),
    /** Half-widths of the 95 % intervals before the first of them. */
    before,
  };
}

/** As few of all as tell nearly what all tell: where the targets are out of reach, the last ones bring nothing. */
function tellingOnes(
  before: HalfWidths,
  order: readonly Planned[],
  determined: readonly ParameterName[],
  targets: HalfWidths,
): number {
  const last = order.at(-1)?.reached;
  if (!last) return 0;
  const enough = (reached: HalfWidths): boolean =>
    determined.every((name) => reached[name] <= (last[name] <= targets[name] ? targets[name] : NEARLY * last[name]));
  return [before, ...order.map(({ reached }) => reached)].findIndex(enough);
}

export const isStraight = (feature: Pick<DimensionalFeature, 'from' | 'to'>): boolean =>
  axisAlong(vectorOf(feature)) !== undefined;

/** Points of a caliper or a scale are laid on edges that its jaws can't grip. */
const eyesToo = (gauge: PlanGauge): PlanGauge => (gauge.takes === 'windows' ? { ...gauge, takes: 'both' } : gauge);

/** Whether something can be read there with this gauge, whatever the machine does. */
function sure(feature: DimensionalFeature, { reachMm, takes }: PlanGauge): boolean {
  const { kind, nominalMm, by } = feature;
  if (by === 'jaws') return (takes === 'windows' || takes === 'both') && nominalMm <= reachMm;
  // Nothing grips slanted slots: these are sighted in any case.
  if (kind === 'span' && takes === 'windows' && isStraight(feature)) return false;
  if (kind === 'web') return nominalMm >= LEAST_WEB_MM - 1e-3;
  return kind === 'span' ? nominalMm <= reachMm : nominalMm >= LEAST_OPENING_MM - 1e-3;
}

/** Derivatives of a reading by the five numbers, and by the zeros of the gauges for spans, for widths and for windows. */
function rowOf(feature: DimensionalFeature): Float64Array {
  const row = new Float64Array(PARAMETER_NAMES.length + 3);
  predictLength({ kind: feature.kind, ...vectorOf(feature) }, NOMINAL, row);
  if (KERF_SIGN[feature.kind] === 0) row[3] = row[4] = 0;
  row[feature.by === 'jaws' ? 7 : feature.kind === 'span' ? 5 : 6] = 1;
  return row;
}

function determinedBy(features: readonly DimensionalFeature[]): ParameterName[] {
  const spans = features.filter(({ kind }) => kind === 'span');
  const widths = features.filter(({ kind, by }) => kind !== 'span' && by === undefined);
  const windows = features.filter(({ by }) => by === 'jaws');
  const along = (pool: readonly DimensionalFeature[], axis?: 'x' | 'y'): boolean =>
    pool.some((feature) => axisAlong(vectorOf(feature)) === axis);
  const long = [...spans, ...windows];
  const can = [along(long, 'x'), along(long, 'y'), along(spans), along(widths, 'x'), along(widths, 'y')];
  return PARAMETER_NAMES.filter((_, k) => can[k]);
}

/** Covariance before anything is read. */
function start(features: readonly DimensionalFeature[], { zeroMm }: PlanGauge): Float64Array[] {
  const elsewhere = !features.some(({ kind, by }) => kind === 'span' || by === 'jaws');
  const sds = [...PRIOR.map((sd, k) => (elsewhere && k < 3 ? SCALE_ELSEWHERE : sd)), zeroMm, zeroMm, zeroMm];
  return sds.map((sd, k) => Float64Array.from(sds, (_, j) => (j === k ? sd * sd : 0)));
}

const times = (matrix: readonly Float64Array[], row: Float64Array): Float64Array =>
  Float64Array.from(matrix, (line) => dot(line, row));

/** Takes one reading in: C - C g gᵀ C / (r + gᵀ C g), in place. */
function learn(covariance: Float64Array[], row: Float64Array, variance: number): void {
  const pull = times(covariance, row);
  const total = variance + dot(row, pull);
  covariance.forEach((line, k) => {
    for (let j = 0; j < line.length; j += 1) line[j] -= (pull[k] * pull[j]) / total;
  });
}

function halfWidths(covariance: readonly Float64Array[]): Record<ParameterName, number> {
  return byParameter((_, k) => FACTOR_95 * Math.sqrt(Math.max(0, covariance[k][k])));
}

/** How far the told numbers would be from their targets after one more reading. */
function missAfter(
  covariance: readonly Float64Array[],
  determined: readonly ParameterName[],
  targets: HalfWidths,
  variance: number,
) {
  return (row: Float64Array): number => {
    const pull = times(covariance, row);
    const total = variance + dot(row, pull);
    return determined.reduce((sum, name) => {
      const k = PARAMETER_NAMES.indexOf(name);
      return sum + ((covariance[k][k] - pull[k] ** 2 / total) / (targets[name] / FACTOR_95) ** 2) ** 2;
    }, 0);
  };
}

/** The largest share that a reading has in its own prediction: what it hides of its own slip. */
function mostLeverage(covariance: readonly Float64Array[], read: readonly Float64Array[], variance: number): number {
  return read.reduce((most, row) => Math.max(most, dot(row, times(covariance, row)) / variance), 0);
}

function leverageAfter(covariance: readonly Float64Array[], read: readonly Float64Array[], variance: number) {
  return (row: Float64Array): number => {
    const next = covariance.map((line) => Float64Array.from(line));
    learn(next, row, variance);
    return mostLeverage(next, [...read, row], variance);
  };
}

/** Readings that bring nearly as much are as good: a place on the bed that nobody has looked at is worth more. */
const AS_GOOD = 1.02;

/** Of the features with nearly the lowest score the one farthest from all chosen ones of its kind and direction. */
function spreadChoice(
  features: readonly DimensionalFeature[],
  score: (feature: DimensionalFeature) => number,
  chosen: readonly DimensionalFeature[],
): DimensionalFeature {
  const scored = features.map((feature) => ({ feature, score: score(feature) }));
  const lowest = Math.min(...scored.map((one) => one.score));
  const good = scored.filter((one) => one.score <= AS_GOOD * lowest + 1e-12).map((one) => one.feature);
  const distances = good.map((feature) => nearest(feature, chosen));
  return good[distances.indexOf(Math.max(...distances))];
}

function nearest(feature: DimensionalFeature, chosen: readonly DimensionalFeature[]): number {
  const [x, y] = middle(feature);
  const alike = chosen.filter((other) => other.kind === feature.kind && direction(other) === direction(feature));
  return Math.min(1e6, ...alike.map((other) => Math.hypot(middle(other)[0] - x, middle(other)[1] - y)));
}

const middle = ({ from, to }: DimensionalFeature): [number, number] => [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];

function direction(feature: DimensionalFeature): string {
  const { dx, dy } = vectorOf(feature);
  return axisAlong({ dx, dy }) ?? (dy > 0 === dx > 0 ? 'rising' : 'falling');
}

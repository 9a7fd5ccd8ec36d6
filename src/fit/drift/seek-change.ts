import { mean } from '../statistics/averages.js';
import { fisherUpper, studentQuantile, studentTwoSided } from '../statistics/student-t.js';

/** One number of the machine on one day. */
export interface DayValue {
  readonly value: number;
  /** By the scatter of that day's readings alone. */
  readonly variance: number;
}

export interface DayChange {
  /** `step`: the newest days differ from all before them. `trend`: the whole course rises or falls. */
  readonly kind: 'step' | 'trend';
  /** A step: how many of the newest days lie beyond it. A trend: over how many days. */
  readonly days: number;
  /** A step: newest days less those before. A trend: last day less first, by the fitted line. */
  readonly size: number;
  /** Inside ± this nothing has changed. */
  readonly limit: number;
  readonly stdUncertainty: number;
  readonly dof: number;
  /** Two-sided, for this test alone. */
  readonly pValue: number;
  /** Of a false alarm by any of the tests, were they all as eager as to call this one. */
  readonly chance: number;
  readonly beyond: boolean;
}

export interface SeekOptions {
  /** Chance of a false alarm over all tests together. */
  readonly alpha: number;
  /** What is known from elsewhere: counts as a day before the first as long as the course is short. */
  readonly anchor?: DayValue;
  /** Degrees of freedom that the days' variances are known with; default: many. */
  readonly noiseDof?: number;
}

/** Days that a course must have before what they differ by can be told. */
export const ENOUGH_DAYS = 4;
/** Days that a line needs. */
const LEAST_FOR_TREND = 6;
/** Newest days that are taken together, in steps of about a half: what lies between is seen nearly as soon. */
const STEP_DAYS = [1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233, 377];
/** Share of the chance of a false alarm that each sort of test has: most for a step seen within two days; the longer ones share the rest. */
const SHARES = { newest: 0.15, lastTwo: 0.45, trend: 0.2 };
/**
 * The scatter that the readings' noise explains counts as much as so many degrees of freedom of history: fewer once the
 * days evidently differ by more than that.
 */
const NOISE_COUNTS_AS = { alone: 100, exceeded: 8 };
const EXCEEDED_CHANCE = 0.03;
/** Of something that is stated as exact. */
const LEAST_VARIANCE = 1e-18;

/**
 * Has the newest part of a course changed, or does the whole of it drift? The mean of the newest 1, 2, 3, 5, 8 … days
 * against the mean of all before, and a line through all, each a Student t test; all together give a false alarm with
 * the chance `alpha`. No day is ever forgotten: what was too little to be seen on its first day is seen with the next.
 *
 * @param course - oldest first, the day to be judged last
 * @returns every test, the most telling first
 * @remarks Days differ by their readings' noise and by a day's own component, found from half the mean square of
 *   successive differences, which a slow drift does not inflate (J. von Neumann et al., Ann. Math. Statist. 12 (1941)
 *   153–162), pooled with the noise. Chances of tests add up (Bonferroni).
 */
export function seekChange(course: readonly DayValue[], options: SeekOptions): DayChange[] {
  const { alpha, anchor, noiseDof = NOISE_COUNTS_AS.alone } = options;
  const most = Math.min(noiseDof, NOISE_COUNTS_AS.alone);
  const count = course.length;
  const test = (
    bare: Pick<DayChange, 'kind' | 'days' | 'size' | 'stdUncertainty' | 'dof'>,
    share: number,
  ): DayChange => {
    const { dof } = bare;
    const limit = bare.stdUncertainty * quantile(share * alpha, dof);
    const pValue = studentTwoSided(bare.size / bare.stdUncertainty, dof);
    return { ...bare, limit, pValue, chance: Math.min(1, pValue / share), beyond: Math.abs(bare.size) > limit };
  };
  const held =
    anchor && count <= 2 * ENOUGH_DAYS
      ? { ...anchor, weight: 1 / Math.max(LEAST_VARIANCE, anchor.variance) }
      : undefined;
  const lengths = STEP_DAYS.filter((days) => count - days >= (held ? 0 : 1));
  const rest = (1 - SHARES.newest - SHARES.lastTwo - SHARES.trend) / Math.max(1, lengths.length - 2);
  const changes = lengths.map((days, k) => {
    const from = count - days;
    const { sum, dof } = weighing(course, from, most);
    // Own days before a step are better witnesses than another piece: once there are enough they are heard alone.
    const other = held && from < ENOUGH_DAYS ? held : { value: 0, weight: 0 };
    const after = sum(from, count, () => 1);
    const before = sum(0, from, () => 1) + other.weight;
    const earlier = (sum(0, from, (i) => course[i].value) + other.weight * other.value) / before;
    const size = sum(from, count, (i) => course[i].value) / after - earlier;
    const share = k === 0 ? SHARES.newest : k === 1 ? SHARES.lastTwo : rest;
    return test({ kind: 'step', days, size, stdUncertainty: Math.sqrt(1 / after + 1 / before), dof }, share);
  });
  if (count >= LEAST_FOR_TREND) {
    const { sum, dof } = weighing(course, count, most);
    const all = sum(0, count, () => 1);
    const middle = sum(0, count, (i) => i) / all;
    const spread = sum(0, count, (i) => (i - middle) ** 2);
    const slope = sum(0, count, (i) => (i - middle) * course[i].value) / spread;
    const span = count - 1;
    const bare = {
      kind: 'trend',
      days: count,
      size: slope * span,
      stdUncertainty: span / Math.sqrt(spread),
      dof,
    } as const;
    changes.push(test(bare, SHARES.trend));
  }
  return changes.sort((a, b) => Math.abs(b.size) / b.limit - Math.abs(a.size) / a.limit);
}

/**
 * Sums over days, weighted by what each is known with and what days differ by. The difference across the step that is
 * asked for (before day `step`) is left out of that: a step is no scatter.
 */
function weighing(course: readonly DayValue[], step: number, most: number) {
  const { variance: ofDay, dof } = dayComponent(course, step, most);
  const sum = (from: number, to: number, of: (i: number) => number): number => {
    let total = 0;
    for (let i = from; i < to; i += 1) total += of(i) / (course[i].variance + ofDay);
    return total;
  };
  return { sum, dof };
}

/** What days differ by beyond their readings' noise, as a variance, and the degrees of freedom that it is known with. */
function dayComponent(course: readonly DayValue[], step: number, most: number): { variance: number; dof: number } {
  const steps = course.flatMap(({ value }, i) => (i === 0 || i === step ? [] : [(value - course[i - 1].value) ** 2]));
  if (steps.length < ENOUGH_DAYS - 1) return { variance: 0, dof: most };
  const noise = mean(course.map(({ variance }) => variance));
  const seen = mean(steps) / 2;
  // Half the mean square of n successive differences is worth about 2 n/3 degrees of freedom.
  const seenDof = (2 * steps.length) / 3;
  const exceeded = fisherUpper(seen / noise, seenDof, most) < EXCEEDED_CHANCE;
  const noiseDof = Math.min(most, exceeded ? NOISE_COUNTS_AS.exceeded : NOISE_COUNTS_AS.alone);
  const dof = noiseDof + seenDof;
  return { variance: Math.max(0, (noiseDof * noise + seenDof * seen) / dof - noise), dof };
}

const quantiles = new Map<string, number>();
const MOST_KEPT = 1000;

/** Histories of one length need the same few quantiles again and again, and each costs as much as the rest of a test. */
function quantile(chance: number, dof: number): number {
  const key = `${chance} ${dof}`;
  const known = quantiles.get(key) ?? studentQuantile(chance, dof);
  if (quantiles.size > MOST_KEPT) quantiles.clear();
  quantiles.set(key, known);
  return known;
}

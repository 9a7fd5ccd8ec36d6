import { present } from '../../kept.js';
import { mean, rms } from '../statistics/averages.js';
import { fisherUpper, studentQuantile, studentTwoSided } from '../statistics/distributions.js';
import { type EwmaChart, ewmaChart, type IndividualsChart, individualsChart } from './charts.js';

/** One value of the machine at one time, for example the kerf read from a witness coupon. */
export interface HistoryPoint {
  /** What stands under the point: a date or a job. */
  readonly label: string;
  readonly value: number;
  /** Of the value itself, if known; used when the history is too short to show the scatter. */
  readonly stdUncertainty?: number;
  /** Degrees of freedom that it is known with; default: many. */
  readonly dof?: number;
  /** Refused when it came: limits never rest on it. */
  readonly refused?: boolean;
  /** It may be of a machine that has changed: nor do they rest on that. */
  readonly doubtful?: boolean;
}

export interface DriftOptions {
  /** Limits come from the first so many points; default the first 20, when all was well, or all if there are fewer. */
  readonly baselineCount?: number;
  /** Weight of the newest value in the moving average, default 0.2. */
  readonly lambda?: number;
  /** How a value is written in the sentences, with its unit; default: not at all. */
  readonly format?: (value: number) => string;
}

export interface DriftChart {
  readonly labels: readonly string[];
  /** Of each point, from the readings within it; NaN where it isn't known. */
  readonly stdUncertainties: readonly number[];
  /** Undefined below two baseline points. */
  readonly individuals?: IndividualsChart;
  readonly ewma?: EwmaChart;
  /** Numbers (from 1) of points outside the limits of either chart. */
  readonly outside: readonly number[];
  /** The most telling of all looks for a lasting change of the newest days, or a trend; undefined below two points, and where their uncertainties alone must tell, and don't. */
  readonly change?: DayChange;
  /** Numbers (from 1) of points that no chance explains, beyond all that is plotted. */
  readonly farOff: readonly number[];
  readonly sentences: readonly string[];
}

const LAMBDA = 0.2;
/** Fewer than this many points give limits that are themselves uncertain (common practice: 20 to 25). */
const ENOUGH_POINTS = 20;
/** Of fewer, moving ranges may be several times too wide by chance: what lies within such limits may still have changed. */
const FEW_POINTS = 8;
/** Chance of a false alarm, over all looks at one number. */
const ALPHA = 0.001;

/**
 * Follows one number of the machine over time: Shewhart chart of single values and moving average, with words.
 *
 * @param history - oldest first
 * @remarks Where the values' own uncertainties are known the limits are no narrower than they explain: moving ranges of 20
 *   values miss the true scatter by a sixth, often enough to raise alarms about noise. While fewer than two points are in the baseline there are no limits, only a sentence.
 * @example driftChart([{ label: 'March', value: 0.12 }, { label: 'April', value: 0.121 }, { label: 'May', value: 0.119 }]).outside // []
 */
export function driftChart(history: readonly HistoryPoint[], options: DriftOptions = {}): DriftChart {
  const labels = history.map((point) => point.label);
  const stdUncertainties = history.map((point) => point.stdUncertainty ?? Number.NaN);
  const firstUnsound = history.find(({ refused, doubtful }) => refused || doubtful);
  // The newest is judged by those before it: among few it would widen its own limits.
  const sound = firstUnsound ? history.indexOf(firstUnsound) : history.length - 1;
  const baselineCount = Math.min(options.baselineCount ?? ENOUGH_POINTS, sound);
  if (baselineCount < 2) {
    const change = changeOf(history);
    return {
      labels,
      stdUncertainties,
      outside: [],
      change,
      farOff: [],
      sentences: [
        ...present(
          change?.beyond && changeWords(change, history, options.format),
          change &&
            !change.beyond &&
            options.format &&
            `A change of less than ${options.format(change.limit)} would not show.`,
        ),
        firstUnsound
          ? `Limits need at least two dates before the first that ${firstUnsound.refused ? 'was refused' : 'is doubtful'} (${firstUnsound.label}).`
          : 'Limits need at least two dates before the newest. A witness coupon with every stencil tells all but the shear, which takes the slanted slots of a scale-ruler.',
      ],
    };
  }
  const values = history.map((point) => point.value);
  const individuals = individualsChart(values, {
    baselineCount,
    leastSd: noiseOf(history.slice(0, baselineCount)),
    forLater: true,
  });
  const lambda = options.lambda ?? LAMBDA;
  // The centre is the baseline's mean, itself uncertain: beside the steadier average that counts.
  const sd = individuals.sd * Math.sqrt(1 + (2 - lambda) / lambda / baselineCount);
  const ewma = ewmaChart(values, { lambda, target: individuals.centre, sd });
  const outside = [...new Set([...individuals.outside, ...ewma.outside])].sort((a, b) => a - b);
  const change = changeOf(history, { sd: individuals.sd, dof: baselineCount });
  const far =
    individuals.sd * Math.sqrt(1 + 1 / baselineCount) * studentQuantile(ALPHA / history.length, baselineCount);
  const farOff = individuals.outside.filter((n) => Math.abs(values[n - 1] - individuals.centre) > far);
  return {
    labels,
    stdUncertainties,
    individuals,
    ewma,
    outside,
    change,
    farOff,
    sentences: words(history, { individuals, ewma, change }, baselineCount, options.format),
  };
}

/** @param usual - what the baseline's values scatter by; where there is no baseline, only values with an uncertainty of their own tell */
function changeOf(
  history: readonly HistoryPoint[],
  usual?: { readonly sd: number; readonly dof: number },
): DayChange | undefined {
  const course = history.map(({ value, stdUncertainty = usual?.sd ?? Number.NaN }) => ({
    value,
    variance: stdUncertainty ** 2,
  }));
  if (course.length < 2 || course.some(({ variance }) => Number.isNaN(variance))) return undefined;
  const noiseDof = usual?.dof ?? Math.max(1, Math.min(...history.map(({ dof }) => dof ?? Number.POSITIVE_INFINITY)));
  return seekChange(course, { alpha: ALPHA, noiseDof })[0];
}

/** Root mean square of what the values' own uncertainties come to; 0 unless all are known. */
function noiseOf(points: readonly HistoryPoint[]): number {
  const noise = rms(points.map(({ stdUncertainty }) => stdUncertainty ?? Number.NaN));
  return Number.isFinite(noise) ? noise : 0;
}

function words(
  history: readonly HistoryPoint[],
  { individuals, ewma, change }: Required<Pick<DriftChart, 'individuals' | 'ewma'>> & Pick<DriftChart, 'change'>,
  baselineCount: number,
  format: DriftOptions['format'],
): string[] {
  const names = (numbers: readonly number[]): string => listed(numbers, history);
  const { points, centre, lowerLimit, upperLimit, outside } = individuals;
  const seen = present(
    change?.beyond && changeWords(change, history, format),
    outside.length > 0 && `Outside the limits: ${names(outside)}.`,
    outside.length === 1 &&
      history.length >= ENOUGH_POINTS &&
      `By chance alone 1 value in 370 lies outside, so one of ${history.length} may be chance: read it again.`,
    ewma.outside.some((n) => !outside.includes(n)) && `The moving average has left its limits: ${names(ewma.outside)}.`,
  );
  const none = `No value lies outside its limits${baselineCount < FEW_POINTS ? ', but so few dates show large changes only' : ': what varies is the usual scatter'}.`;
  return [
    ...(seen.length > 0 ? seen : [none]),
    ...present(
      format &&
        `Mean ${format(centre)}, limits ${format(lowerLimit)} to ${format(upperLimit)}; latest ${format(points[points.length - 1])}.`,
    ),
    // The newest never counts among them.
    `The limits rest on the first ${baselineCount} of ${history.length}.`,
  ];
}

function changeWords(
  { kind, days, size }: DayChange,
  history: readonly HistoryPoint[],
  format: DriftOptions['format'],
): string {
  const by = format ? ` by ${size < 0 ? '−' : '+'}${format(Math.abs(size))}` : '';
  return kind === 'trend'
    ? `Drifts: over ${days} dates it has moved${by}. Cut and read full coupons and fit again.`
    : `Changed${by} from ${history[history.length - days].label} on. Look for a cause there: focus, film, lens, settings.`;
}

/** More labels than this hide what they say. */
const MOST_LABELS = 5;

/** Labels of the numbered points; many of them as how many there are and where they begin and end. */
function listed(numbers: readonly number[], history: readonly HistoryPoint[]): string {
  const labels = numbers.map((n) => history[n - 1].label);
  if (labels.length <= MOST_LABELS) return labels.join(', ');
  const [first, last] = [numbers[0], numbers[numbers.length - 1]];
  const among = last - first + 1;
  const share = among === labels.length ? 'all' : `${labels.length} of the`;
  return `${share} ${among} from ${labels[0]} to ${labels[labels.length - 1]}`;
}

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
/** What is known from elsewhere is heard in a course of no more days. */
export const MOST_WITH_ANCHOR = 2 * ENOUGH_DAYS;
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
    const limit = bare.stdUncertainty * studentQuantile(share * alpha, dof);
    const pValue = studentTwoSided(bare.size / bare.stdUncertainty, dof);
    return { ...bare, limit, pValue, chance: Math.min(1, pValue / share), beyond: Math.abs(bare.size) > limit };
  };
  const held =
    anchor && count <= MOST_WITH_ANCHOR
      ? { ...anchor, weight: 1 / Math.max(LEAST_VARIANCE, anchor.variance) }
      : undefined;
  const lengths = STEP_DAYS.filter((days) => count - days >= (held ? 0 : 1));
  const shares = sharesOf(lengths.length, count >= LEAST_FOR_TREND);
  const changes = lengths.map((days, k) => {
    const from = count - days;
    const { sum, dof } = weighing(course, from, most);
    // Own days before a step are better witnesses than another piece: once there are enough they are heard alone.
    const other = held && from < ENOUGH_DAYS ? held : { value: 0, weight: 0 };
    const after = sum(from, count, () => 1);
    const before = sum(0, from, () => 1) + other.weight;
    const earlier = (sum(0, from, (i) => course[i].value) + other.weight * other.value) / before;
    const size = sum(from, count, (i) => course[i].value) / after - earlier;
    return test({ kind: 'step', days, size, stdUncertainty: Math.sqrt(1 / after + 1 / before), dof }, shares.steps[k]);
  });
  if (count >= LEAST_FOR_TREND) {
    const { sum, dof } = weighing(course, count, most);
    const all = sum(0, count, () => 1);
    const middle = sum(0, count, (i) => i) / all;
    const spread = sum(0, count, (i) => (i - middle) ** 2);
    const slope = sum(0, count, (i) => (i - middle) * course[i].value) / spread;
    const [size, stdUncertainty] = [slope * (count - 1), (count - 1) / Math.sqrt(spread)];
    changes.push(test({ kind: 'trend', days: count, size, stdUncertainty, dof }, shares.trend));
  }
  return changes.sort((a, b) => Math.abs(b.size) / b.limit - Math.abs(a.size) / a.limit);
}

/** What each test has of the chance of a false alarm: those that there are share the whole, so that the first day is seen best. */
function sharesOf(steps: number, trend: boolean): { readonly steps: readonly number[]; readonly trend: number } {
  const rest = (1 - SHARES.newest - SHARES.lastTwo - SHARES.trend) / Math.max(1, steps - 2);
  const bare = Array.from({ length: steps }, (_, k) => [SHARES.newest, SHARES.lastTwo][k] ?? rest);
  const whole = bare.reduce((sum, share) => sum + share, trend ? SHARES.trend : 0);
  return { steps: bare.map((share) => share / whole), trend: SHARES.trend / whole };
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

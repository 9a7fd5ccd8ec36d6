import { studentQuantile } from '../statistics/student-t.js';
import { type EwmaChart, ewmaChart, type IndividualsChart, individualsChart } from './charts.js';
import { type DayChange, seekChange } from './seek-change.js';

/** One value of the machine at one time, for example the kerf read from a witness coupon. */
export interface HistoryPoint {
  /** What stands under the point: a date or a job. */
  readonly label: string;
  readonly value: number;
  /** Of the value itself, if known; used when the history is too short to show the scatter. */
  readonly stdUncertainty?: number;
  /** Refused when it came: limits never rest on it. */
  readonly refused?: boolean;
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
  /** The most telling of all looks for a lasting change of the newest days, or a trend; undefined below three points. */
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
  const firstRefused = history.findIndex(({ refused }) => refused);
  const sound = firstRefused < 0 ? history.length : firstRefused;
  const baselineCount = Math.min(options.baselineCount ?? ENOUGH_POINTS, sound);
  if (baselineCount < 2) {
    return {
      labels,
      stdUncertainties,
      outside: [],
      farOff: [],
      sentences: [
        firstRefused >= 0
          ? `Limits need at least two dates before the first that was refused (${labels[firstRefused]}).`
          : 'Limits need at least two dates; read a witness coupon with every stencil.',
      ],
    };
  }
  const values = history.map((point) => point.value);
  const individuals = individualsChart(values, { baselineCount, leastSd: noiseOf(history.slice(0, baselineCount)) });
  const lambda = options.lambda ?? LAMBDA;
  // The centre is the baseline's mean, itself uncertain: beside the steadier average that counts.
  const centreShare = history.length > baselineCount ? (2 - lambda) / lambda / baselineCount : 0;
  const sd = individuals.sd * Math.sqrt(1 + centreShare);
  const ewma = ewmaChart(values, { lambda, target: individuals.centre, sd });
  const outside = [...new Set([...individuals.outside, ...ewma.outside])].sort((a, b) => a - b);
  const variance = individuals.sd ** 2;
  const course = history.map(({ value, stdUncertainty }) => ({
    value,
    variance: stdUncertainty === undefined ? variance : stdUncertainty ** 2,
  }));
  const change = history.length > 2 ? seekChange(course, { alpha: ALPHA, noiseDof: baselineCount })[0] : undefined;
  const far =
    individuals.sd * Math.sqrt(1 + 1 / baselineCount) * studentQuantile(ALPHA / history.length, baselineCount);
  const farOff = individuals.outside.filter((n) => Math.abs(values[n - 1] - individuals.centre) > far);
  return {
    labels,
    stdUncertainties,
    individuals,
    ewma,
    outside,
    ...(change ? { change } : {}),
    farOff,
    sentences: words(history, individuals, ewma, change, baselineCount, options.format),
  };
}

/** Root mean square of what the values' own uncertainties come to; 0 unless all are known. */
function noiseOf(points: readonly HistoryPoint[]): number {
  const squares = points.map(({ stdUncertainty }) => (stdUncertainty ?? Number.NaN) ** 2);
  const mean = squares.reduce((sum, square) => sum + square, 0) / points.length;
  return Number.isFinite(mean) ? Math.sqrt(mean) : 0;
}

function words(
  history: readonly HistoryPoint[],
  individuals: IndividualsChart,
  ewma: EwmaChart,
  change: DayChange | undefined,
  baselineCount: number,
  format: DriftOptions['format'],
): string[] {
  const names = (numbers: readonly number[]): string => listed(numbers, history);
  const list: string[] = [];
  if (change?.beyond) {
    const size = format ? ` by ${signed(change.size, format)}` : '';
    list.push(
      change.kind === 'trend'
        ? `Drifts: over ${change.days} dates it has moved${size}. Cut and read full coupons and fit again.`
        : `Changed${size} from ${history[history.length - change.days].label} on. Look for a cause there: focus, film, lens, settings.`,
    );
  }
  if (individuals.outside.length > 0) list.push(`Outside the limits: ${names(individuals.outside)}.`);
  if (individuals.outside.length === 1 && history.length >= ENOUGH_POINTS)
    list.push(`By chance alone 1 value in 370 lies outside, so one of ${history.length} may be chance: read it again.`);
  const slow = ewma.outside.filter((n) => !individuals.outside.includes(n));
  if (slow.length > 0) list.push(`The moving average has left its limits: ${names(ewma.outside)}.`);
  if (list.length === 0)
    list.push(
      `No value lies outside its limits${baselineCount < FEW_POINTS ? ', but so few dates show large changes only' : ': what varies is the usual scatter'}.`,
    );
  if (format) {
    const latest = individuals.points[individuals.points.length - 1];
    list.push(
      `Mean ${format(individuals.centre)}, limits ${format(individuals.lowerLimit)} to ${format(individuals.upperLimit)}; latest ${format(latest)}.`,
    );
  }
  if (history.length > baselineCount) list.push(`The limits rest on the first ${baselineCount} of ${history.length}.`);
  else if (baselineCount < ENOUGH_POINTS)
    list.push(`The limits rest on ${baselineCount} dates; they are firm from about ${ENOUGH_POINTS} on.`);
  return list;
}

function signed(size: number, format: (value: number) => string): string {
  return `${size < 0 ? '−' : '+'}${format(Math.abs(size))}`;
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

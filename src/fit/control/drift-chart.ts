import { type EwmaChart, ewmaChart, type IndividualsChart, individualsChart } from './charts.js';

/** One value of the machine at one time, for example the kerf read from a witness coupon. */
export interface HistoryPoint {
  /** What stands under the point: a date or a job. */
  readonly label: string;
  readonly value: number;
  /** Of the value itself, if known; used when the history is too short to show the scatter. */
  readonly stdUncertainty?: number;
}

export interface DriftOptions {
  /** Limits come from the first so many points; default all. */
  readonly baselineCount?: number;
  /** Weight of the newest value in the moving average, default 0.2. */
  readonly lambda?: number;
}

export interface DriftChart {
  readonly labels: readonly string[];
  /** Undefined below two baseline points. */
  readonly individuals?: IndividualsChart;
  readonly ewma?: EwmaChart;
  /** Numbers (from 1) of points outside the limits of either chart. */
  readonly outside: readonly number[];
  /** Numbers (from 1) at which eight or more points in a row have lain on one side of the centre line. */
  readonly runs: readonly number[];
  readonly sentences: readonly string[];
}

/** Fewer than this many points give limits that are themselves uncertain (common practice: 20 to 25). */
const ENOUGH_POINTS = 20;
/** NIST/SEMATECH 6.3.2 lists eight points in a row on one side among the rules for an unusual pattern. */
const RUN_LENGTH = 8;

/**
 * Follows one number of the machine over time: Shewhart chart of single values and moving average, with words.
 *
 * @param history - oldest first
 * @remarks While fewer than two points are in the baseline there are no limits, only a sentence.
 */
export function driftChart(history: readonly HistoryPoint[], options: DriftOptions = {}): DriftChart {
  const labels = history.map((point) => point.label);
  const baselineCount = Math.min(options.baselineCount ?? history.length, history.length);
  if (baselineCount < 2) {
    return {
      labels,
      outside: [],
      runs: [],
      sentences: ['Limits need at least two readings over time; read a witness coupon with every stencil.'],
    };
  }
  const values = history.map((point) => point.value);
  const individuals = individualsChart(values, { baselineCount });
  const ewma = ewmaChart(values, { lambda: options.lambda ?? 0.2, target: individuals.centre, sd: individuals.sd });
  const outside = [...new Set([...individuals.outside, ...ewma.outside])].sort((a, b) => a - b);
  const runs = longRuns(values, individuals.centre);
  return {
    labels,
    individuals,
    ewma,
    outside,
    runs,
    sentences: words(history, individuals, ewma, runs, baselineCount),
  };
}

function longRuns(values: readonly number[], centre: number): number[] {
  const found: number[] = [];
  let length = 0;
  let side = 0;
  values.forEach((value, i) => {
    const here = Math.sign(value - centre);
    length = here !== 0 && here === side ? length + 1 : here === 0 ? 0 : 1;
    side = here;
    if (length >= RUN_LENGTH) found.push(i + 1);
  });
  return found;
}

function words(
  history: readonly HistoryPoint[],
  individuals: IndividualsChart,
  ewma: EwmaChart,
  runs: readonly number[],
  baselineCount: number,
): string[] {
  const names = (numbers: readonly number[]): string => numbers.map((n) => history[n - 1].label).join(', ');
  const list: string[] = [];
  if (individuals.outside.length > 0)
    list.push(
      `Outside the limits: ${names(individuals.outside)}. Look for a cause there: focus, film, lens, settings.`,
    );
  const slow = ewma.outside.filter((n) => !individuals.outside.includes(n));
  if (slow.length > 0)
    list.push(
      `The moving average has left its limits (${names(slow)}): the machine drifts slowly. Cut and read a full coupon and fit again.`,
    );
  else if (runs.length > 0)
    list.push(
      `${RUN_LENGTH} or more readings in a row lie on one side (at ${names(runs)}): the machine has probably moved a little.`,
    );
  if (list.length === 0) list.push('In control: what varies is the usual scatter.');
  if (baselineCount < ENOUGH_POINTS)
    list.push(`The limits rest on ${baselineCount} readings; they are firm from about ${ENOUGH_POINTS} on.`);
  return list;
}

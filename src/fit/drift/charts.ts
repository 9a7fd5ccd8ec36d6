import { demand } from '../../errors.js';
import { mean } from '../statistics/averages.js';

/** d2 for ranges of two: the mean moving range over d2 estimates the standard deviation. ISO 7870-2 and NIST 6.3.2.2 print 1.128. */
const D2_OF_TWO = 1.128;
/** D4 for ranges of two: upper limit of the moving range (lower: 0). Table value 3.267. */
const D4_OF_TWO = 3.267;

/** Limits lie so many standard deviations from the centre. */
const LIMITS_SD = 3;

export interface IndividualsOptions {
  /** Centre line and limits come from the first so many values (the time when all was well); default all. */
  readonly baselineCount?: number;
  /** The standard deviation is taken no smaller than this, for example the values' own uncertainty; default 0. */
  readonly leastSd?: number;
  /** The baseline's mean is itself uncertain: the limits are wider by √(1 + 1/n), as later values need them. */
  readonly forLater?: boolean;
}

export interface IndividualsChart extends ControlChart {
  readonly kind: 'individuals';
  readonly upperLimit: number;
  readonly lowerLimit: number;
  readonly meanMovingRange: number;
  /** meanMovingRange / d2, or `leastSd` where that is more. */
  readonly sd: number;
  /** |x[i] − x[i−1]|, one fewer than values. */
  readonly movingRanges: readonly number[];
  readonly movingRangeUpperLimit: number;
}

/**
 * Shewhart chart of single values: mean ± 3 · mean moving range / d2.
 *
 * @param values - in order of time, at least 2 in the baseline; any unit
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE
 * @remarks Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
 * @example individualsChart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]).upperLimit // 55.8041
 */
export function individualsChart(values: readonly number[], options: IndividualsOptions = {}): IndividualsChart {
  const baseline = values.slice(0, options.baselineCount ?? values.length);
  requireValues(baseline, 2);
  requireValues(values, 2);
  const centre = mean(baseline);
  const meanMovingRange = mean(movingRanges(baseline));
  const sd = Math.max(meanMovingRange / D2_OF_TWO, options.leastSd ?? 0);
  const reach = LIMITS_SD * sd * (options.forLater ? Math.sqrt(1 + 1 / baseline.length) : 1);
  const [lowerLimit, upperLimit] = [centre - reach, centre + reach];
  return {
    kind: 'individuals',
    ...chartOf(values, centre, values.map(() => [lowerLimit, upperLimit])), // biome-ignore format: one thought
    upperLimit,
    lowerLimit,
    meanMovingRange,
    sd,
    movingRanges: movingRanges(values),
    movingRangeUpperLimit: D4_OF_TWO * meanMovingRange,
  };
}

export interface EwmaOptions {
  /** Weight of the newest value, 0 < lambda ≤ 1; default 0.2 (the handbook's usual 0.2 to 0.3). */
  readonly lambda?: number;
  /** Start and centre line; default the mean of the values. */
  readonly target?: number;
  /** Standard deviation of single values; default mean moving range / 1.128. */
  readonly sd?: number;
}

export interface EwmaChart extends ControlChart {
  readonly kind: 'ewma';
  readonly lambda: number;
  readonly sd: number;
  /** target, E[1], E[2], …: one more than values. */
  readonly ewma: readonly number[];
  /** sqrt(lambda / (2 − lambda)): how much steadier the average is than a single value, in the long run. */
  readonly factor: number;
  /** The steady limits. */
  readonly upperLimit: number;
  readonly lowerLimit: number;
}

/**
 * Chart of the exponentially weighted moving average E[t] = lambda · y[t] + (1 − lambda) · E[t−1]: sees a small lasting
 * drift sooner than single values do.
 *
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE, LAMBDA, SD_NOT_POSITIVE
 * @remarks Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
 * @example ewmaChart([52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5], { lambda: 0.3, target: 50, sd: 2.0539 }).ewma.slice(0, 4) // [50, 50.6, 49.52, 50.56]
 */
export function ewmaChart(values: readonly number[], options: EwmaOptions = {}): EwmaChart {
  const lambda = options.lambda ?? 0.2;
  demand(lambda > 0 && lambda <= 1, 'LAMBDA', `expected lambda above 0 and up to 1, found ${lambda}.`, 'Values of 0.2 to 0.3 are usual.'); // biome-ignore format: one call
  requireValues(values, options.sd === undefined ? 2 : 1);
  const sd = options.sd ?? mean(movingRanges(values)) / D2_OF_TWO;
  demand(sd >= 0, 'SD_NOT_POSITIVE', `expected a standard deviation ≥ 0, found ${sd}.`, 'Leave it out.');
  const target = options.target ?? mean(values);
  const ewma = [target];
  for (const value of values) ewma.push(lambda * value + (1 - lambda) * ewma[ewma.length - 1]);
  const factor = Math.sqrt(lambda / (2 - lambda));
  const steady = LIMITS_SD * sd * factor;
  const [lowerLimit, upperLimit] = [target - steady, target + steady];
  return {
    kind: 'ewma',
    ...chartOf(ewma.slice(1), target, values.map(() => [lowerLimit, upperLimit])), // biome-ignore format: one thought
    lambda,
    sd,
    ewma,
    factor,
    upperLimit,
    lowerLimit,
  };
}

function movingRanges(values: readonly number[]): number[] {
  return values.slice(1).map((value, i) => Math.abs(value - values[i]));
}

/** What every chart holds. Numbers of points count from 1. */
export interface ControlChart {
  readonly kind: 'individuals' | 'ewma';
  /** The plotted values, one per observation. */
  readonly points: readonly number[];
  readonly centre: number;
  /** One per point. */
  readonly upperLimits: readonly number[];
  readonly lowerLimits: readonly number[];
  readonly outside: readonly number[];
}

type Limits = readonly [low: number, high: number];

/** Points with their limits, and which lie outside of them. */
function chartOf(points: readonly number[], centre: number, limits: readonly Limits[]) {
  const outside = points.flatMap((point, i) => (point < limits[i][0] || point > limits[i][1] ? [i + 1] : []));
  const [lowerLimits, upperLimits] = [0, 1].map((end) => limits.map((both) => both[end]));
  return { points: [...points], centre, upperLimits, lowerLimits, outside };
}

/** @throws {InputError} TOO_FEW_VALUES, NOT_FINITE */
function requireValues(values: readonly number[], least: number): void {
  const few = `expected at least ${least} values, found ${values.length}.`;
  demand(values.length >= least, 'TOO_FEW_VALUES', few, 'Wait for more readings.');
  values.forEach((value, i) => {
    demand(Number.isFinite(value), 'NOT_FINITE', `expected finite numbers, value ${i + 1} is ${value}.`, 'Correct it.');
  });
}

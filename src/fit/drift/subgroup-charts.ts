import { type ControlChart, chartOf, chartProblem, mean, requireValues } from './chart-parts.js';
import { controlConstants } from './control-constants.js';

export interface SubgroupOptions {
  /** Width of the limits in standard deviations, default 3. */
  readonly k?: number;
  /** Centre lines and limits come from the first so many subgroups; default all. */
  readonly baselineCount?: number;
}

/** Two charts, one for where the subgroups lie and one for how much the values inside them scatter. */
export interface SubgroupCharts {
  readonly means: ControlChart;
  readonly scatter: ControlChart;
  /** Standard deviation of single values, from the scatter inside the subgroups. */
  readonly sd: number;
}

/**
 * Shewhart charts of means and ranges of subgroups, for example of the readings of one day.
 *
 * @param subgroups - in order of time, at least 2, each of at least 2 values; sizes may differ
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE
 * @remarks With equal sizes: x̿ ± A2 R̄ and D3 R̄ to D4 R̄. With unequal ones the standard deviation is the mean of
 *   R/d2(n), and each subgroup has limits of its own. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1.
 * @example meanAndRangeCharts([[1, 3], [2, 4], [3, 5]]).means.centre // 3
 */
export function meanAndRangeCharts(
  subgroups: readonly (readonly number[])[],
  options: SubgroupOptions = {},
): SubgroupCharts {
  const range = (values: readonly number[]): number => Math.max(...values) - Math.min(...values);
  return charts(subgroups, options, 'range', range, (n) => {
    const { d2, d3 } = controlConstants(n);
    return { expected: d2, sd: d3 };
  });
}

/**
 * Shewhart charts of means and standard deviations of subgroups; better than ranges from about ten values on.
 *
 * @param subgroups - as for {@link meanAndRangeCharts}
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE
 * @remarks With equal sizes: x̿ ± A3 s̄ and B3 s̄ to B4 s̄. Source: as there.
 */
export function meanAndSdCharts(
  subgroups: readonly (readonly number[])[],
  options: SubgroupOptions = {},
): SubgroupCharts {
  const sd = (values: readonly number[]): number => {
    const centre = mean(values);
    return Math.sqrt(values.reduce((sum, value) => sum + (value - centre) ** 2, 0) / (values.length - 1));
  };
  return charts(subgroups, options, 'sd', sd, (n) => {
    const { c4 } = controlConstants(n);
    return { expected: c4, sd: Math.sqrt(1 - c4 * c4) };
  });
}

function charts(
  subgroups: readonly (readonly number[])[],
  options: SubgroupOptions,
  kind: 'range' | 'sd',
  scatterOf: (values: readonly number[]) => number,
  factors: (size: number) => { readonly expected: number; readonly sd: number },
): SubgroupCharts {
  const k = options.k ?? 3;
  const baseline = subgroups.slice(0, options.baselineCount ?? subgroups.length);
  if (baseline.length < 2) {
    throw chartProblem('TOO_FEW_VALUES', `expected at least 2 subgroups, found ${baseline.length}.`, 'Wait for more.');
  }
  for (const values of subgroups) requireValues(values, 2);
  const sizes = subgroups.map((values) => values.length);
  const own = sizes.map(factors);
  const scatter = subgroups.map(scatterOf);
  const sd = mean(baseline.map((_, i) => scatter[i] / own[i].expected));
  const total = baseline.reduce((sum, values) => sum + values.length, 0);
  const centre = baseline.reduce((sum, values) => sum + values.reduce((part, value) => part + value, 0), 0) / total;
  const upperLimits = own.map((factor) => sd * (factor.expected + k * factor.sd));
  const lowerLimits = own.map((factor) => Math.max(0, sd * (factor.expected - k * factor.sd)));
  return {
    means: {
      kind: 'mean',
      ...chartOf(
        subgroups.map(mean),
        centre,
        sizes.map((n) => (k * sd) / Math.sqrt(n)),
      ),
    },
    scatter: {
      kind,
      points: scatter,
      centre: mean(baseline.map((_, i) => scatter[i])),
      upperLimits,
      lowerLimits,
      outside: scatter
        .map((_, i) => i + 1)
        .filter((n) => isOutside(scatter[n - 1], lowerLimits[n - 1], upperLimits[n - 1])),
    },
    sd,
  };
}

function isOutside(value: number, low: number, high: number): boolean {
  return value > high || value < low;
}

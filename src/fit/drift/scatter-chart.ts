import { micrometres } from '../../micrometres.js';
import { firstOf } from '../../words.js';
import { logGamma } from '../statistics/special.js';
import { type ControlChart, chartProblem } from './chart-parts.js';

/** How much the readings of one day scatter about what they say together. */
export interface ScatterPoint {
  readonly label: string;
  /** Standard deviation, mm. */
  readonly sdMm: number;
  /** Degrees of freedom that it rests on. */
  readonly dof: number;
}

export interface ScatterChart {
  readonly labels: readonly string[];
  readonly chart: ControlChart;
  readonly sentences: readonly string[];
}

/** From here on the factors no longer change. */
const MOST_DOF = 999;

/**
 * Chart of the scatter within each day: a standard deviation that leaves its limits tells of another gauge, another
 * hand, ragged edges or a wrong reading, while the machine itself may be the same.
 *
 * @param points - oldest first; those without degrees of freedom are passed over
 * @returns undefined when fewer than two days can be charted
 * @remarks s chart with each day's own degrees of freedom: c4 σ ± 3 σ √(1 − c4²), σ² the pooled variance within days.
 *   Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1.
 * @example scatterChart([{ label: 'May', sdMm: 0.004, dof: 9 }, { label: 'June', sdMm: 0.005, dof: 9 }]).sentences
 */
export function scatterChart(
  points: readonly ScatterPoint[],
  options: { readonly k?: number; readonly baselineCount?: number } = {},
): ScatterChart | undefined {
  const usable = points.filter(({ dof }) => dof >= 1);
  const baseline = usable.slice(0, options.baselineCount ?? usable.length);
  if (baseline.length < 2) return undefined;
  if (usable.some(({ sdMm }) => !(sdMm >= 0))) {
    throw chartProblem('NOT_FINITE', 'expected standard deviations ≥ 0.', 'Correct them.');
  }
  const dofs = baseline.reduce((sum, { dof }) => sum + dof, 0);
  const sd = Math.sqrt(baseline.reduce((sum, { sdMm, dof }) => sum + dof * sdMm ** 2, 0) / dofs);
  const k = options.k ?? 3;
  const reach = usable.map(({ dof }) => {
    const c4 = meanOfSd(Math.min(MOST_DOF, dof));
    return { centre: c4 * sd, half: k * sd * Math.sqrt(1 - c4 * c4) };
  });
  const upperLimits = reach.map(({ centre, half }) => centre + half);
  const lowerLimits = reach.map(({ centre, half }) => Math.max(0, centre - half));
  const outside = usable
    .map((_, i) => i + 1)
    .filter((n) => usable[n - 1].sdMm > upperLimits[n - 1] || usable[n - 1].sdMm < lowerLimits[n - 1]);
  const chart: ControlChart = {
    kind: 'sd',
    points: usable.map(({ sdMm }) => sdMm),
    centre: sd,
    upperLimits,
    lowerLimits,
    outside,
  };
  return { labels: usable.map(({ label }) => label), chart, sentences: words(usable, chart) };
}

/** c4: mean of a standard deviation with so many degrees of freedom over the true one (NIST/SEMATECH 6.3.2.1). */
function meanOfSd(dof: number): number {
  return Math.sqrt(2 / dof) * Math.exp(logGamma((dof + 1) / 2) - logGamma(dof / 2));
}

function words(points: readonly ScatterPoint[], { centre, outside, upperLimits }: ControlChart): string[] {
  const wide = outside.filter((n) => points[n - 1].sdMm > upperLimits[n - 1]);
  const usual = `Usual standard deviation ${micrometres(centre)} µm.`;
  if (wide.length === 0) return [`In control: the readings of a date scatter as they always did. ${usual}`];
  const worst = wide.map((n) => `${points[n - 1].label} (${micrometres(points[n - 1].sdMm)} µm)`);
  return [
    `Readings scatter more than usual: ${firstOf(worst, 5)}. Look at the gauge, the edges and the rows typed in. ${usual}`,
  ];
}

import { micrometres } from '../../micrometres.js';
import { firstOf } from '../../words.js';
import { logGamma } from '../statistics/special.js';
import { fisherUpper } from '../statistics/student-t.js';
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
  /** Numbers (from 1) of days that scatter more than the others beyond chance, all days together. */
  readonly wide: readonly number[];
  readonly sentences: readonly string[];
}

/** Chance of a false alarm over all days: limits of three standard deviations would have one in every sixth year of weekly pieces. */
const ALPHA = 0.001;
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
  const squares = baseline.reduce((sum, { sdMm, dof }) => sum + dof * sdMm ** 2, 0);
  const sd = Math.sqrt(squares / dofs);
  // Against the others: among few a wide one would hide itself.
  const isWide = ({ sdMm, dof }: ScatterPoint, i: number): boolean => {
    const own = i < baseline.length ? dof : 0;
    const others = dofs - own;
    const f = sdMm ** 2 / ((squares - own * sdMm ** 2) / others);
    return others > 0 && fisherUpper(f, dof, others) < ALPHA / usable.length;
  };
  const wide = usable.flatMap((point, i) => (isWide(point, i) ? [i + 1] : []));
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
  return { labels: usable.map(({ label }) => label), chart, wide, sentences: words(usable, chart, wide) };
}

/** c4: mean of a standard deviation with so many degrees of freedom over the true one (NIST/SEMATECH 6.3.2.1). */
function meanOfSd(dof: number): number {
  return Math.sqrt(2 / dof) * Math.exp(logGamma((dof + 1) / 2) - logGamma(dof / 2));
}

function words(points: readonly ScatterPoint[], { centre, outside }: ControlChart, wide: readonly number[]): string[] {
  const usual = `Usual standard deviation ${micrometres(centre)} µm.`;
  const named = (numbers: readonly number[]): string =>
    firstOf(
      numbers.map((n) => `${points[n - 1].label} (${micrometres(points[n - 1].sdMm)} µm)`),
      5,
    );
  if (wide.length > 0)
    return [`Readings scatter more than usual: ${named(wide)}. Look at the gauge, the edges and the rows typed in. ${usual}`]; // biome-ignore format: one sentence
  const more = outside.filter((n) => points[n - 1].sdMm > centre);
  if (more.length > 0)
    return [`Outside the limits: ${named(more)}; among ${points.length} dates that is no more than chance may do. ${usual}`]; // biome-ignore format: one sentence
  return [`In control: the readings of a date scatter as they always did. ${usual}`];
}

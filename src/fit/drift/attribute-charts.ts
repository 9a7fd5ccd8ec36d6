import { type ControlChart, chartOf, chartProblem, requireValues } from './chart-parts.js';

export interface AttributeOptions {
  /** Width of the limits in standard deviations, default 3. */
  readonly k?: number;
  /** Centre line and limits come from the first so many samples; default all. */
  readonly baselineCount?: number;
}

/** Faulty ones among those looked at. */
export interface FaultyCount {
  readonly faulty: number;
  /** How many were looked at, > 0. */
  readonly size: number;
}

/**
 * Chart of the faulty share (openings that did not come through, of those cut): p̄ ± k √(p̄ (1 − p̄)/n).
 *
 * @param samples - in order of time; faulty ≤ size
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE, NOT_A_COUNT
 * @remarks Limits are cut at 0 and 1, and each sample's own where sizes differ.
 *   Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2.
 */
export function pChart(samples: readonly FaultyCount[], options: AttributeOptions = {}): ControlChart {
  const over = samples.find(({ faulty, size }) => faulty > size);
  if (over) throw notACount(`${over.faulty} faulty ones of ${over.size}`);
  return shareChart('p', samples, options, (p, size) => Math.sqrt((p * (1 - p)) / size), 1);
}

/**
 * Chart of faults per unit where samples differ in size (burrs per 100 openings): ū ± k √(ū/n). For samples of one size
 * see {@link cChart}.
 *
 * @param samples - in order of time; size in units, whole or not
 * @throws {InputError} TOO_FEW_VALUES, NOT_FINITE, NOT_A_COUNT
 * @remarks The Poisson counterpart of the c chart: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1.
 */
export function uChart(samples: readonly FaultyCount[], options: AttributeOptions = {}): ControlChart {
  return shareChart('u', samples, options, (u, size) => Math.sqrt(u / size), Number.POSITIVE_INFINITY);
}

function shareChart(
  kind: 'p' | 'u',
  samples: readonly FaultyCount[],
  options: AttributeOptions,
  sdOf: (share: number, size: number) => number,
  most: number,
): ControlChart {
  requireValues(
    samples.map(({ faulty }) => faulty),
    1,
  );
  requireValues(
    samples.map(({ size }) => size),
    1,
  );
  const bad = samples.find(({ faulty, size }) => faulty < 0 || !(size > 0));
  if (bad) throw notACount(`${bad.faulty} of ${bad.size}`);
  const baseline = samples.slice(0, options.baselineCount ?? samples.length);
  requireValues(
    baseline.map(({ faulty }) => faulty),
    1,
  );
  const sum = (pick: (sample: FaultyCount) => number): number =>
    baseline.reduce((total, sample) => total + pick(sample), 0);
  const centre = sum(({ faulty }) => faulty) / sum(({ size }) => size);
  const chart = chartOf(
    samples.map(({ faulty, size }) => faulty / size),
    centre,
    samples.map(({ size }) => (options.k ?? 3) * sdOf(centre, size)),
  );
  return {
    kind,
    ...chart,
    upperLimits: chart.upperLimits.map((limit) => Math.min(most, limit)),
    lowerLimits: chart.lowerLimits.map((limit) => Math.max(0, limit)),
  };
}

function notACount(found: string) {
  return chartProblem('NOT_A_COUNT', `expected counts ≥ 0 of a size > 0, found ${found}.`, 'Correct the count.');
}

import type { Warning } from '../../errors.js';
import { median } from '../statistics/median.js';
import { type LeastSquaresOptions, leastSquares } from './least-squares.js';

export interface RobustOptions extends Pick<LeastSquaresOptions, 'names' | 'rankTolerance'> {
  /** Huber's weights bound the pull of a wrong observation, the bisquare takes it away. Default bisquare. */
  readonly estimator?: 'huber' | 'bisquare';
  /** In standard deviations; default 1.345 (Huber) or 4.685 (bisquare): 95 % efficiency for normal errors. */
  readonly tuning?: number;
  /** Least absolute deviations stand more wrong observations; default for the bisquare. */
  readonly start?: 'least-squares' | 'least-absolute';
}

export interface RobustResult {
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  readonly covariance: readonly (readonly number[])[];
  /** Median absolute deviation of the residuals from zero, over 0.6745. */
  readonly scale: number;
  /** 1 for observations that count fully, 0 for those that don't at all. */
  readonly weights: readonly number[];
  readonly residuals: readonly number[];
  readonly rank: number;
  readonly dof: number;
  readonly iterations: number;
  readonly converged: boolean;
  /** Why it stopped, in plain words. */
  readonly stopped: string;
  readonly warnings: readonly Warning[];
}

/** The 0.75 quantile of the normal distribution. */
const MAD_OF_NORMAL = 0.674489750196082;
const STEP_TOLERANCE = 1e-10;
const MAX_ITERATIONS = 500;

/**
 * Linear regression that wrong observations hardly move: M-estimate by iteratively reweighted least squares, the scale
 * re-estimated in every step.
 *
 * @param rows - the design, one row for each observation, the constant column included
 * @param observations - as many as rows
 * @returns coefficients with Huber's covariance (his first form), weights, and why the iteration stopped
 * @throws {InputError} as `leastSquares`
 * Source: P. J. Huber, Robust Statistics (1981), 7.6 and 7.8; P. W. Holland, R. E. Welsch, Comm. Statist. A6 (1977)
 * 813-827 (weights and tuning).
 */
export function robustLeastSquares(
  rows: readonly (readonly number[])[],
  observations: readonly number[],
  options: RobustOptions = {},
): RobustResult {
  const { estimator = 'bisquare' } = options;
  const tuning = options.tuning ?? (estimator === 'huber' ? 1.345 : 4.685);
  const psi = estimator === 'huber' ? HUBER : BISQUARE;
  const common = { names: options.names, rankTolerance: options.rankTolerance };
  const plain = leastSquares(rows, observations, common);
  const absolute = (options.start ?? (estimator === 'huber' ? 'least-squares' : 'least-absolute')) === 'least-absolute';
  let { coefficients, residuals } = absolute ? leastAbsolute(rows, observations, common) : plain;
  let weights: number[] = residuals.map(() => 1);
  let scale = 0;
  let iterations = 0;
  let converged = false;
  while (!converged && iterations < MAX_ITERATIONS) {
    iterations += 1;
    scale = scaleOf(residuals);
    if (scale === 0) break;
    weights = residuals.map((e) => psi.weight(e / scale, tuning));
    const next = leastSquares(rows, observations, { ...common, weights: weights.map((w) => Math.max(w, TRACE)) });
    const moved = next.coefficients.map(
      (value, j) => Math.abs(value - coefficients[j]) / (plain.standardErrors[j] || 1),
    );
    converged = moved.every((step) => !(step > STEP_TOLERANCE));
    ({ coefficients, residuals } = next);
  }
  const covariance = huberCovariance(
    rows,
    residuals,
    scale,
    (u) => psi.value(u, tuning),
    (u) => psi.slope(u, tuning),
  );
  return {
    coefficients,
    standardErrors: covariance.map((row, j) => Math.sqrt(row[j])),
    covariance,
    scale,
    weights,
    residuals,
    rank: plain.rank,
    dof: plain.dof,
    iterations,
    converged: converged || scale === 0,
    stopped:
      scale === 0
        ? 'more than half of the observations lie exactly on the fit'
        : converged
          ? 'converged: the last step was below 1e-10 standard errors'
          : `stopped after ${MAX_ITERATIONS} iterations without converging`,
    warnings: plain.warnings,
  };
}

interface Psi {
  weight(u: number, c: number): number;
  value(u: number, c: number): number;
  slope(u: number, c: number): number;
}

const HUBER: Psi = {
  weight: (u, c) => (Math.abs(u) <= c ? 1 : c / Math.abs(u)),
  value: (u, c) => Math.max(-c, Math.min(c, u)),
  slope: (u, c) => (Math.abs(u) <= c ? 1 : 0),
};

const BISQUARE: Psi = {
  weight: (u, c) => (Math.abs(u) < c ? (1 - (u / c) ** 2) ** 2 : 0),
  value: (u, c) => (Math.abs(u) < c ? u * (1 - (u / c) ** 2) ** 2 : 0),
  slope: (u, c) => (Math.abs(u) < c ? (1 - (u / c) ** 2) * (1 - 5 * (u / c) ** 2) : 0),
};

/** Weights of zero are not for `leastSquares`; this much changes nothing. */
const TRACE = 1e-12;

function scaleOf(residuals: readonly number[]): number {
  return (median(residuals.map(Math.abs)) ?? 0) / MAD_OF_NORMAL;
}

function leastAbsolute(
  rows: readonly (readonly number[])[],
  observations: readonly number[],
  options: LeastSquaresOptions,
): { coefficients: readonly number[]; residuals: readonly number[] } {
  let fit = leastSquares(rows, observations, options);
  const unit = scaleOf(fit.residuals) || 1;
  for (let round = 0; round < 100; round += 1) {
    const weights = fit.residuals.map((e) => unit / Math.max(Math.abs(e), 1e-4 * unit));
    fit = leastSquares(rows, observations, { ...options, weights });
  }
  return fit;
}

/** K² [Σψ²/(n-p)] s² / [Σψ'/n]² (XᵀX)⁻¹. */
function huberCovariance(
  rows: readonly (readonly number[])[],
  residuals: readonly number[],
  scale: number,
  value: (u: number) => number,
  slope: (u: number) => number,
): number[][] {
  // One observation more than exact gives (XᵀX)⁻¹ by the residual variance; take that out again.
  const unit = leastSquares(rows, residuals);
  const count = rows.length;
  const squares = residuals.reduce((sum, e) => sum + value(e / scale) ** 2, 0);
  const slopes = residuals.map((e) => slope(e / scale));
  const mean = slopes.reduce((sum, s) => sum + s, 0) / count;
  const variance = slopes.reduce((sum, s) => sum + (s - mean) ** 2, 0) / count;
  const k = 1 + (unit.rank * variance) / (count * mean * mean);
  const factor = (k * k * squares * scale * scale) / unit.dof / (mean * mean) / unit.residualSd ** 2;
  return unit.covariance.map((row) => row.map((entry) => entry * factor));
}

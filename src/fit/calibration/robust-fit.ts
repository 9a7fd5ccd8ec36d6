import { weightedQr } from '../linear/weighted-qr.js';
import { median } from '../statistics/median.js';
import { type Linearised, linearise, stepFrom } from './gauss-newton.js';
import { type CalibrationModel, fullMatrix, fullParameters } from './models.js';
import { roundingVariance, scatterGroups } from './scatter.js';
import type { FitLength } from './weighted-fit.js';

export interface RobustFit {
  /** The five. */
  readonly parameters: number[];
  /** 5 x 5; zero rows for assumed parameters. */
  readonly covariance: number[][];
  /** 0 for readings that count for nothing, 1 for those right on the model. */
  readonly weights: Float64Array;
  readonly residuals: Float64Array;
  /** Robust standard deviation of each reading, mm. */
  readonly sd: Float64Array;
  readonly iterations: number;
  readonly converged: boolean;
}

/** Tukey's bisquare at 95 % efficiency for normal errors. */
const BISQUARE = 4.685;
/** Median absolute deviation to standard deviation of a normal distribution. */
const MAD_TO_SD = 1.482602218505602;
const FLOOR_SD_MM = 1e-6;
const ABSOLUTE_ROUNDS = 60;
const MAX_ROUNDS = 200;
/** Steps of the absolute-deviation stage that matter no more: it only finds a start. Ratios, and kerfs in mm. */
const settledStep = (name: string): number => (name.startsWith('kerf') ? 1e-4 : 1e-6);

/**
 * A fit that gross errors hardly move: a start by medians or by least absolute deviations (what is measured where is
 * known exactly, so only the readings can be wrong, and both stand until nearly half of those that bear on a parameter
 * are), the scale of each gauge from the median absolute deviation, then Tukey's bisquare by reweighting until it
 * stands still.
 *
 * Source: P. J. Huber, Robust Statistics (1981), 6.7 (equations) and 7.6 (covariance); P. J. Rousseeuw, A. M. Leroy,
 * Robust Regression and Outlier Detection (1987), ch. 3; V. J. Yohai, Ann. Statist. 15 (1987) 642-656 for the order:
 * high breakdown first, scale kept, then an efficient M-estimate.
 */
export function robustFit(model: CalibrationModel, lengths: readonly FitLength[], start: readonly number[]): RobustFit {
  const readings = Float64Array.from(lengths, ({ valueMm }) => valueMm);
  let state = highBreakdownStart(model, lengths, readings, start);
  const sd = gaugeSd(lengths, state.residuals, model.freeNames.length);
  const cost = (residuals: Float64Array): number => boundedCost(residuals, sd);
  let iterations = 0;
  let converged = false;
  while (!converged && iterations < MAX_ROUNDS) {
    iterations += 1;
    const weights = rowWeights(bisquareWeights(state.residuals, sd), sd);
    const { next, qr } = stepFrom(model, lengths, readings, weights, state, cost);
    const before = state.free;
    converged = next.free.every((value, k) => Math.abs(value - before[k]) <= 1e-6 * Math.sqrt(qr.inverse[k][k]));
    state = next;
  }
  return {
    parameters: fullParameters(model, state.free),
    covariance: fullMatrix(model, robustCovariance(state.residuals, sd, state.columns)),
    weights: bisquareWeights(state.residuals, sd),
    residuals: state.residuals,
    sd,
    iterations,
    converged,
  };
}

/** The start by medians or the least absolute deviations, whichever more readings agree with. */
function highBreakdownStart(
  model: CalibrationModel,
  lengths: readonly FitLength[],
  readings: Float64Array,
  start: readonly number[],
): Linearised {
  const unit = Float64Array.from(lengths, ({ resolutionMm }) => Math.max(resolutionMm / 2, 0.002));
  const byMedians: Linearised = linearise(model, lengths, readings, unit, start);
  let absolute = byMedians;
  for (let round = 0; round < ABSOLUTE_ROUNDS; round += 1) {
    const weights = absolute.residuals.map((e, i) => 1 / (unit[i] * Math.max(Math.abs(e), 1e-3 * unit[i])));
    const { next } = stepFrom(model, lengths, readings, weights, absolute);
    const before = absolute.free;
    const settled = next.free.every((value, k) => Math.abs(value - before[k]) < settledStep(model.freeNames[k]));
    absolute = next;
    if (settled) break;
  }
  if (!absolute.free.every(Number.isFinite)) return byMedians;
  const [a, b] = [absolute, byMedians].map(({ residuals }) => gaugeSd(lengths, residuals, model.freeNames.length));
  const sd = a.map((value, i) => Math.min(value, b[i]));
  return boundedCost(absolute.residuals, sd) <= boundedCost(byMedians.residuals, sd) ? absolute : byMedians;
}

/** Tukey's loss: 1 for each reading that counts for nothing, less for the others. */
function boundedCost(residuals: Float64Array, sd: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < residuals.length; i += 1) {
    const u = residuals[i] / (BISQUARE * sd[i]);
    sum += Math.abs(u) < 1 ? 1 - (1 - u * u) ** 3 : 1;
  }
  return sum;
}

/** Weights of zero would make the problem singular when all readings of a kind are off: they keep a trace. */
const TRACE = 1e-10;

function rowWeights(weights: Float64Array, sd: Float64Array): Float64Array {
  return weights.map((w, i) => Math.max(w, TRACE) / (sd[i] * sd[i]));
}

function bisquareWeights(residuals: Float64Array, sd: Float64Array): Float64Array {
  return residuals.map((e, i) => {
    const u = e / (BISQUARE * sd[i]);
    return Math.abs(u) < 1 ? (1 - u * u) ** 2 : 0;
  });
}

/** Each gauge's standard deviation by the median absolute deviation, at least that of its rounding. */
function gaugeSd(lengths: readonly FitLength[], residuals: Float64Array, parameters: number): Float64Array {
  const sd = new Float64Array(lengths.length);
  const freedom = Math.sqrt(lengths.length / Math.max(1, lengths.length - parameters));
  for (const { members } of scatterGroups(lengths.map(({ resolutionMm }) => resolutionMm))) {
    const mad = median(members.map((i) => Math.abs(residuals[i]))) ?? 0;
    for (const i of members) {
      const rounding = Math.sqrt(roundingVariance(lengths[i].resolutionMm));
      sd[i] = Math.max(MAD_TO_SD * mad * freedom, rounding, FLOOR_SD_MM);
    }
  }
  return sd;
}

/** Huber's covariance: K² [Σψ²/(n-p)] / [Σψ'/n]² (XᵀX)⁻¹ over the readings that count, in units of their scale. */
function robustCovariance(residuals: Float64Array, sd: Float64Array, columns: readonly Float64Array[]): number[][] {
  const used = Array.from(residuals.keys()).filter((i) => Math.abs(residuals[i]) < BISQUARE * sd[i]);
  const pick = (values: Float64Array): Float64Array => Float64Array.from(used, (i) => values[i]);
  const size = columns.length;
  const count = used.length;
  let squares = 0;
  const slopes = used.map((i) => {
    const u = residuals[i] / sd[i];
    const v = (u / BISQUARE) ** 2;
    squares += (u * (1 - v) ** 2) ** 2;
    return (1 - v) * (1 - 5 * v);
  });
  const mean = slopes.reduce((sum, s) => sum + s, 0) / count;
  const variance = slopes.reduce((sum, s) => sum + (s - mean) ** 2, 0) / count;
  const k = 1 + (size * variance) / (count * mean * mean);
  const factor = (k * k * squares) / Math.max(1, count - size) / (mean * mean);
  const weights = pick(sd.map((s) => 1 / (s * s)));
  const { inverse } = weightedQr(columns.map(pick), new Float64Array(count), weights);
  return inverse.map((row) => row.map((value) => factor * value));
}

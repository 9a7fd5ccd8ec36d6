import { type GaussNewtonResult, gaussNewton, type Linearised, linearise, stepFrom } from './gauss-newton.js';
import type { Length } from './length-model.js';
import { type CalibrationModel, fullMatrix, fullParameters } from './models.js';
import {
  effectiveDof,
  roundingVariance,
  type ScatterEstimate,
  type ScatterGroup,
  scatterGroups,
  scatterStep,
} from './scatter.js';

/** A reading as the fit needs it. */
export interface FitLength extends Length {
  readonly valueMm: number;
  readonly resolutionMm: number;
}

export interface WeightedFit {
  readonly model: CalibrationModel;
  readonly solved: GaussNewtonResult;
  readonly weights: Float64Array;
  readonly groups: readonly ScatterGroup[];
  readonly scatter: ScatterEstimate;
  /** Readings less free parameters. */
  readonly dof: number;
  /** 5 x 5, mm and ratios; zero rows for assumed parameters. */
  readonly covariance: number[][];
  /** For each of the five: degrees of freedom of its variance. */
  readonly parameterDof: readonly number[];
}

/** No gauge of this trade sees a nanometre: keeps weights finite when readings fit exactly. */
const LEAST_VARIANCE = 1e-12;
const MAX_ROUNDS = 60;

/**
 * Fits one model with weights from each gauge: variance = rounding (step²/12) + the scatter found in that gauge's
 * readings. The scatter is estimated by restricted maximum likelihood, so with one gauge the result is plain least
 * squares with the usual s².
 */
export function weightedFit(
  model: CalibrationModel,
  lengths: readonly FitLength[],
  start: readonly number[],
): WeightedFit {
  const readings = Float64Array.from(lengths, ({ valueMm }) => valueMm);
  const groups = scatterGroups(lengths.map(({ resolutionMm }) => resolutionMm));
  const known = Float64Array.from(lengths, ({ resolutionMm }) => roundingVariance(resolutionMm));
  const dof = lengths.length - model.freeNames.length;
  const weightsFor = (variances: readonly number[]): Float64Array => {
    const weights = new Float64Array(lengths.length);
    groups.forEach(({ members }, g) => {
      for (const i of members) weights[i] = 1 / Math.max(LEAST_VARIANCE, known[i] + variances[g]);
    });
    return weights;
  };
  let state: Linearised = linearise(model, lengths, readings, new Float64Array(lengths.length).fill(1), start);
  state = stepFrom(model, lengths, readings, new Float64Array(lengths.length).fill(1), state).next;
  const plain = state.residuals.reduce((sum, e) => sum + e * e, 0) / Math.max(1, dof);
  let scatter: ScatterEstimate = {
    variances: groups.map(() => (dof > 0 ? plain : 0)),
    covariance: groups.map(() => groups.map(() => 0)),
  };
  let weights = weightsFor(scatter.variances);
  for (let round = 0; round < MAX_ROUNDS && dof > 0; round += 1) {
    const { next, qr } = stepFrom(model, lengths, readings, weights, state);
    if (!qr.solution.every(Number.isFinite)) break;
    state = next;
    const estimate = scatterStep(groups, scatter.variances, state.residuals, weights, state.columns, qr);
    const settled = estimate.variances.every(
      (variance, g) => Math.abs(variance - scatter.variances[g]) <= 1e-9 * (variance + LEAST_VARIANCE),
    );
    scatter = estimate;
    weights = weightsFor(scatter.variances);
    if (settled) break;
  }
  const solved = gaussNewton(model, lengths, readings, weights, fullParameters(model, state.free));
  const free = model.freeNames.length;
  const unit = (k: number): number[] => Array.from({ length: free }, (_, j) => (j === k ? 1 : 0));
  const freeDof = Array.from({ length: free }, (_, k) =>
    effectiveDof(unit(k), groups, scatter.covariance, weights, solved.columns, solved.qr),
  );
  return {
    model,
    solved,
    weights,
    groups,
    scatter,
    dof,
    covariance: fullMatrix(model, solved.qr.inverse),
    parameterDof: model.follows.map((a) => (typeof a === 'number' ? freeDof[a] : Number.POSITIVE_INFINITY)),
  };
}

/** Variance of a reading, mm²: its gauge's rounding and the scatter found with that gauge. */
export function readingVariance(resolutionMm: number, { groups, scatter }: WeightedFit): number {
  const own = groups.findIndex((group) => group.resolutionMm === resolutionMm);
  const variance = scatter.variances[own >= 0 ? own : groups.length - 1] + roundingVariance(resolutionMm);
  return Math.max(variance, LEAST_VARIANCE);
}

import { type GaussNewtonResult, gaussNewton } from './gauss-newton.js';
import type { Length } from './length-model.js';
import { type CalibrationModel, fullMatrix } from './models.js';
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
 *
 * @param extraVariance - known further variance of each reading, mm²; default none
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
  let solved = gaussNewton(model, lengths, readings, new Float64Array(lengths.length).fill(1), start);
  const plain = solved.residuals.reduce((sum, e) => sum + e * e, 0) / Math.max(1, dof);
  let scatter: ScatterEstimate = {
    variances: groups.map(() => (dof > 0 ? plain : 0)),
    covariance: groups.map(() => groups.map(() => 0)),
  };
  let weights = weightsFor(scatter.variances);
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    solved = gaussNewton(model, lengths, readings, weights, solved.parameters);
    if (dof <= 0 || !solved.qr.solution.every(Number.isFinite)) break;
    const next = scatterStep(groups, scatter.variances, solved.residuals, weights, solved.columns, solved.qr);
    const settled = next.variances.every(
      (variance, g) => Math.abs(variance - scatter.variances[g]) <= 1e-9 * (variance + LEAST_VARIANCE),
    );
    scatter = next;
    weights = weightsFor(scatter.variances);
    if (settled) break;
  }
  solved = gaussNewton(model, lengths, readings, weights, solved.parameters);
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

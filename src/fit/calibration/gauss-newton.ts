import { type WeightedQr, weightedQr } from '../linear/weighted-qr.js';
import { type Length, predictLength } from './length-model.js';
import { type CalibrationModel, freeParameters, fullParameters, gatherGradient, unmirror } from './models.js';

export interface GaussNewtonResult {
  /** The five. */
  readonly parameters: number[];
  readonly qr: WeightedQr;
  readonly columns: readonly Float64Array[];
  /** reading - predicted, mm. */
  readonly residuals: Float64Array;
  readonly iterations: number;
  /** Why it stopped, in plain words. */
  readonly stopped: string;
  readonly converged: boolean;
}

/** A step below this share of a parameter's standard uncertainty changes nothing that anybody could see. */
const STEP_TOLERANCE = 1e-9;
const MAX_ITERATIONS = 50;
const MAX_HALVINGS = 20;

/**
 * Weighted least squares for the calibration model, which is linear but for the lengths of slanted features.
 *
 * @param readings - mm, one for each length
 * @param weights - 1/variance, 1/mm²
 * @param start - the five parameters to start from
 */
export function gaussNewton(
  model: CalibrationModel,
  lengths: readonly Length[],
  readings: Float64Array,
  weights: Float64Array,
  start: readonly number[],
): GaussNewtonResult {
  let free = freeParameters(model, start);
  let state = residualsAndColumns(model, lengths, readings, free);
  let qr = weightedQr(state.columns, state.residuals, weights);
  const done = (iterations: number, stopped: string, converged: boolean): GaussNewtonResult => ({
    parameters: fullParameters(model, free),
    qr,
    columns: state.columns,
    residuals: state.residuals,
    iterations,
    stopped,
    converged,
  });
  for (let iteration = 1; iteration <= MAX_ITERATIONS; iteration += 1) {
    const step = qr.solution;
    if (!step.every(Number.isFinite)) return done(iteration, 'two parameters could not be told apart', false);
    const small = step.every((value, k) => Math.abs(value) <= STEP_TOLERANCE * Math.sqrt(qr.inverse[k][k]));
    if (small)
      return done(iteration, `converged: the last step was below ${STEP_TOLERANCE} standard uncertainties`, true);
    const before = weightedSquares(state.residuals, weights);
    let share = 1;
    let next = state;
    for (let halving = 0; ; halving += 1) {
      const trial = free.map((value, k) => value + share * step[k]);
      unmirror(model, trial);
      next = residualsAndColumns(model, lengths, readings, trial);
      if (weightedSquares(next.residuals, weights) <= before * (1 + 1e-12) || halving === MAX_HALVINGS) {
        free = trial;
        break;
      }
      share /= 2;
    }
    state = next;
    qr = weightedQr(state.columns, state.residuals, weights);
    if (share < 2 ** -(MAX_HALVINGS - 1)) return done(iteration, 'no step made the residuals smaller', false);
  }
  return done(MAX_ITERATIONS, `stopped after ${MAX_ITERATIONS} iterations without converging`, false);
}

/** The problem as it looks from one point, without a step. */
export function linearise(
  model: CalibrationModel,
  lengths: readonly Length[],
  readings: Float64Array,
  weights: Float64Array,
  at: readonly number[],
): Linearised & { readonly qr: WeightedQr } {
  const state = residualsAndColumns(model, lengths, readings, freeParameters(model, at));
  return { ...state, qr: weightedQr(state.columns, state.residuals, weights) };
}

/** The problem as it looks from one set of parameters. */
export interface Linearised {
  readonly free: readonly number[];
  readonly columns: readonly Float64Array[];
  /** reading - predicted, mm. */
  readonly residuals: Float64Array;
}

/**
 * One step from a linearised problem: what reweighting iterates on; the model is nearly linear.
 *
 * @param cost - what the step must not raise; it is halved until it doesn't. Not given: the step is taken as it is
 */
export function stepFrom(
  model: CalibrationModel,
  lengths: readonly Length[],
  readings: Float64Array,
  weights: Float64Array,
  from: Linearised,
  cost?: (residuals: Float64Array) => number,
): { readonly next: Linearised; readonly qr: WeightedQr } {
  const qr = weightedQr(from.columns, from.residuals, weights);
  const limit = cost ? cost(from.residuals) * (1 + 1e-12) : Number.POSITIVE_INFINITY;
  for (let halving = 0, share = 1; ; halving += 1, share /= 2) {
    const trial = from.free.map((value, k) => value + share * qr.solution[k]);
    unmirror(model, trial);
    const next = residualsAndColumns(model, lengths, readings, trial);
    if (!cost || cost(next.residuals) <= limit) return { next, qr };
    if (halving === MAX_HALVINGS) return { next: from, qr };
  }
}

function residualsAndColumns(
  model: CalibrationModel,
  lengths: readonly Length[],
  readings: Float64Array,
  free: readonly number[],
): Linearised {
  const parameters = fullParameters(model, free);
  const size = free.length;
  const columns = free.map(() => new Float64Array(lengths.length));
  const residuals = new Float64Array(lengths.length);
  const gradient = new Float64Array(5);
  const gathered = new Float64Array(5);
  for (let i = 0; i < lengths.length; i += 1) {
    residuals[i] = readings[i] - predictLength(lengths[i], parameters, gradient);
    gatherGradient(model, gradient, gathered);
    for (let k = 0; k < size; k += 1) columns[k][i] = gathered[k];
  }
  return { free, columns, residuals };
}

function weightedSquares(residuals: Float64Array, weights: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < residuals.length; i += 1) sum += weights[i] * residuals[i] * residuals[i];
  return sum;
}

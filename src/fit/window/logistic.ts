import type { CholeskyDecomposition } from 'ml-matrix';
import { InputError } from '../../errors.js';
import { checkGiven, listOf, needed, oneOf, someList, someNumber, someText } from '../../given.js';
import { dot } from '../linear/weighted-qr.js';
import { expit, twoSidedNormalP } from '../statistics/distributions.js';
import { cholesky, choleskyInverse, choleskyLogDet, choleskySolve, sandwich } from './cholesky.js';
import { requireGoodData, type ScaledColumns, scaleColumns } from './logistic-data.js';

export interface LogisticOptions {
  /** Tries per row when `y` counts successes; length n, whole numbers >= 1. Not given: one try a row, y is 0 or 1. */
  readonly trials?: readonly number[];
  /**
   * `none` (the default): maximum likelihood. `firth`: likelihood times the square root of the determinant of the
   * information (Jeffreys' prior), which is finite for separated data too and has less bias in small samples.
   */
  readonly penalty?: 'none' | 'firth';
  /** Names of the columns, for messages; not given: x1, x2, … */
  readonly names?: readonly string[];
}

export interface LogisticResult {
  /** One per column, in the columns' own units. */
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  /** Inverse of the information at the estimate, without the penalty's own curvature. */
  readonly covariance: readonly (readonly number[])[];
  /** coefficient / standard error (Wald). */
  readonly zRatios: readonly number[];
  /** Two-sided, from the normal distribution. */
  readonly pValues: readonly number[];
  /** Sum of y ln p + (n − y) ln(1 − p): without the binomial coefficients of grouped data, and without the penalty. */
  readonly logLikelihood: number;
  /** The same for a constant only; undefined when there is no constant column. */
  readonly logLikelihoodNull?: number;
  readonly residualDeviance: number;
  readonly nullDeviance?: number;
  /** nullDeviance − residualDeviance: twice the gain in log-likelihood (called G in handbooks). */
  readonly likelihoodRatio?: number;
  /** −2 ln likelihood + 2 · columns, here with the binomial coefficients of grouped data (they are 1 for single tries). */
  readonly aic: number;
  /** Fitted probability of every row. */
  readonly fitted: readonly number[];
  /** logLikelihood + ½ ln det information; with `firth` only. */
  readonly penalisedLogLikelihood?: number;
  readonly iterations: number;
  readonly stopping: string;
}

const MAX_ITERATIONS = 200;
/** Largest move of any row's logit in the last step. Newton's steps shrink quadratically, so the answer is far better. */
const LOGIT_TOLERANCE = 1e-9;
/** A further step of the same or nearly the same size after this many steps means that the likelihood has no top. */
const PATIENCE = 12;

/**
 * Logistic regression ln(p/(1−p)) = row · coefficients for yes/no results, single or grouped.
 *
 * @param rows - n rows of k columns; the constant column of ones is one of them if it is wanted
 * @param y - n results: 0 or 1, or with `options.trials` the number of successes
 * @throws {InputError} LENGTH_MISMATCH, NOT_FINITE, NOT_A_RESULT, TOO_FEW_ROWS, RANK_DEFICIENT; SEPARATED_DATA when
 *   a combination of the columns parts the results completely or nearly so and no penalty was asked for: the maximum
 *   then lies at infinity and any number returned would be where the iteration happened to stop
 * @remarks Newton's method on centred, scaled columns, step halving; covariance by Cholesky.
 * Sources: McCullagh and Nelder, Generalized Linear Models, 2nd ed. 1989, ch. 4; Firth, Biometrika 80 (1993) 27–38;
 * Albert and Anderson, Biometrika 71 (1984) 1–10 (when the maximum exists).
 * @example logistic([[1, 53], [1, 70], [1, 70], [1, 81]], [1, 1, 0, 0], { penalty: 'firth' })
 */
export function logistic(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  options: LogisticOptions = {},
): LogisticResult {
  checkGiven('logistic', { rows, y }, { rows: needed(listOf(someList)), y: needed(listOf(someNumber)) });
  checkGiven('options', options, {
    trials: listOf(someNumber),
    penalty: oneOf('none', 'firth'),
    names: listOf(someText),
  });
  const trials = options.trials ?? y.map(() => 1);
  const names = options.names ?? (rows[0] ?? []).map((_, j) => `x${j + 1}`);
  requireGoodData(rows, y, trials, names);
  const scaled = scaleColumns(rows, names);
  const firth = options.penalty === 'firth';
  const climb = maximise(scaled.rows, y, trials, firth);
  if (!firth && (climb.state === undefined || !climb.converged)) throw noMaximum(scaled, y, trials, climb.lastStep);
  if (climb.state === undefined || !climb.converged) {
    throw new InputError({
      code: 'NOT_CONVERGED',
      message: `the fit had not settled after ${climb.iterations} steps.`,
      hint: 'Check the rows for values of very different size or mistyped ones.',
    });
  }
  return describe(scaled, y, trials, options, climb as SettledClimb);
}

interface State {
  readonly gamma: readonly number[];
  readonly p: readonly number[];
  readonly lower: CholeskyDecomposition;
  readonly logLikelihood: number;
  readonly objective: number;
}

interface Climb {
  readonly state?: State;
  readonly converged: boolean;
  readonly iterations: number;
  readonly lastStep: readonly number[];
}
type SettledClimb = Climb & { readonly state: State };

/** ln(1 + e^η). */
function softplus(eta: number): number {
  return eta > 0 ? eta + Math.log1p(Math.exp(-eta)) : Math.log1p(Math.exp(eta));
}

function stateAt(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  gamma: readonly number[],
  firth: boolean,
): State | undefined {
  const eta = rows.map((row) => dot(row, gamma));
  const p = eta.map(expit);
  // The weight p(1 − p) as a product of two tails keeps its digits when p is nearly 1.
  const weights = eta.map((e, i) => trials[i] * expit(e) * expit(-e));
  const information = gamma.map((_, a) =>
    gamma.map((_unused, b) => rows.reduce((sum, row, i) => sum + weights[i] * row[a] * row[b], 0)),
  );
  const lower = cholesky(information);
  if (!lower) return undefined;
  const logLikelihood = eta.reduce((sum, e, i) => sum - y[i] * softplus(-e) - (trials[i] - y[i]) * softplus(e), 0);
  return { gamma, p, lower, logLikelihood, objective: logLikelihood + (firth ? choleskyLogDet(lower) / 2 : 0) };
}

function scoreAt(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  state: State,
  firth: boolean,
): number[] {
  const excess = rows.map((row, i) => {
    const plain = y[i] - trials[i] * state.p[i];
    if (!firth) return plain;
    const hat = trials[i] * state.p[i] * (1 - state.p[i]) * dot(row, choleskySolve(state.lower, row));
    return plain + hat * (0.5 - state.p[i]);
  });
  return state.gamma.map((_, a) => rows.reduce((sum, row, i) => sum + excess[i] * row[a], 0));
}

function maximise(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  firth: boolean,
): Climb {
  let state = stateAt(rows, y, trials, new Array<number>(rows[0].length).fill(0), firth);
  let lastStep: number[] = [];
  let smallest = Number.POSITIVE_INFINITY;
  let stalled = 0;
  for (let iteration = 1; state !== undefined && iteration <= MAX_ITERATIONS; iteration++) {
    const step = choleskySolve(state.lower, scoreAt(rows, y, trials, state, firth));
    const size = Math.max(...rows.map((row) => Math.abs(dot(row, step))));
    lastStep = step;
    if (size < LOGIT_TOLERANCE) {
      const last = stateAt(
        rows,
        y,
        trials,
        state.gamma.map((g, j) => g + step[j]),
        firth,
      );
      return { state: last ?? state, converged: true, iterations: iteration, lastStep };
    }
    stalled = size < 0.9 * smallest ? 0 : stalled + 1;
    smallest = Math.min(smallest, size);
    if (!firth && stalled > PATIENCE) return { state, converged: false, iterations: iteration, lastStep };
    const next = climbAlong(rows, y, trials, state, step, firth);
    if (next === 'singular') return { state: undefined, converged: false, iterations: iteration, lastStep };
    if (next === 'no gain') return { state, converged: size < 1e-5, iterations: iteration, lastStep };
    state = next;
  }
  return { state, converged: false, iterations: MAX_ITERATIONS, lastStep };
}

/** The Newton step, halved until the objective does not fall. */
function climbAlong(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  from: State,
  step: readonly number[],
  firth: boolean,
): State | 'singular' | 'no gain' {
  let singular = false;
  for (let share = 1; share > 1e-10; share /= 2) {
    const gamma = from.gamma.map((g, j) => g + share * step[j]);
    const next = stateAt(rows, y, trials, gamma, firth);
    if (next && next.objective >= from.objective - 1e-13 * Math.abs(from.objective)) return next;
    if (!next && share === 1) singular = true;
    if (singular && !firth && share < 1 / 64) return 'singular';
  }
  return 'no gain';
}

/** Says why there is no maximum: separated data with proof, or plainly that it was not found. */
function noMaximum(
  scaled: ScaledColumns,
  y: readonly number[],
  trials: readonly number[],
  direction: readonly number[],
): InputError {
  const sides = scaled.rows.map((row) => dot(row, direction));
  const reach = Math.max(...sides.map(Math.abs));
  const parted = sides.every(
    (side, i) => (y[i] === 0 || side >= -1e-3 * reach) && (y[i] === trials[i] || side <= 1e-3 * reach),
  );
  return new InputError({
    code: parted ? 'SEPARATED_DATA' : 'NO_MAXIMUM',
    message: parted
      ? 'a combination of the columns parts the results (nearly) completely, so the best coefficients are infinite.'
      : 'the likelihood has no maximum that could be found; the results are probably (nearly) parted by the columns.',
    hint: 'Use the penalty "firth", which gives finite answers, or add readings where the results mix.',
  });
}

function describe(
  scaled: ScaledColumns,
  y: readonly number[],
  trials: readonly number[],
  options: LogisticOptions,
  climb: SettledClimb,
): LogisticResult {
  const { state } = climb;
  const coefficients = scaled.back.map((row) => dot(row, state.gamma));
  const covariance = sandwich(scaled.back, choleskyInverse(state.lower));
  const standardErrors = covariance.map((row, j) => Math.sqrt(row[j]));
  const zRatios = coefficients.map((c, j) => c / standardErrors[j]);
  const saturated = y.reduce((sum, value, i) => sum + binomialLog(value, trials[i], value / trials[i]), 0);
  const residualDeviance = 2 * (saturated - state.logLikelihood);
  const hasConstant = scaled.back.some((_, j) => scaled.rows.every((row) => row[j] === scaled.rows[0][j]));
  const share = sum(y) / sum(trials);
  const logLikelihoodNull = y.reduce((total, value, i) => total + binomialLog(value, trials[i], share), 0);
  return {
    coefficients,
    standardErrors,
    covariance,
    zRatios,
    pValues: zRatios.map(twoSidedNormalP),
    logLikelihood: state.logLikelihood,
    residualDeviance,
    ...(hasConstant
      ? {
          logLikelihoodNull,
          nullDeviance: 2 * (saturated - logLikelihoodNull),
          likelihoodRatio: 2 * (state.logLikelihood - logLikelihoodNull),
        }
      : {}),
    aic: -2 * (state.logLikelihood + sum(y.map((value, i) => logChoose(trials[i], value)))) + 2 * coefficients.length,
    fitted: state.p,
    ...(options.penalty === 'firth' ? { penalisedLogLikelihood: state.objective } : {}),
    iterations: climb.iterations,
    stopping: `largest move of a logit below ${LOGIT_TOLERANCE} after ${climb.iterations} steps`,
  };
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/** ln of n over k. */
function logChoose(n: number, k: number): number {
  let total = 0;
  for (let i = 1; i <= Math.min(k, n - k); i++) total += Math.log((n - i + 1) / i);
  return total;
}

/** y ln p + (n − y) ln(1 − p), with 0 ln 0 = 0. */
function binomialLog(y: number, n: number, p: number): number {
  return (y > 0 ? y * Math.log(p) : 0) + (n - y > 0 ? (n - y) * Math.log1p(-p) : 0);
}

import { demand, InputError } from '../../errors.js';
import { checkGiven, listOf, needed, oneOf, someList, someNumber, someText } from '../../given.js';
import { bilinear, dot, type WeightedQr, weightedQr } from '../linear/weighted-qr.js';
import { expit, twoSidedNormalP } from '../statistics/distributions.js';

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
/** A move as small as this is taken for the last one, where rounding lets no share of it gain anything. */
const ROUNDING = 1e-5;
/** A further step of the same or nearly the same size after this many steps means that the likelihood has no top. */
const PATIENCE = 12;
/** A column whose part independent of the columns before it is smaller than this is taken for a combination of them. */
const RANK_TOLERANCE = 1e-10;
/** Weights under which less than this is left of a column tell it no more: the rows are parted. */
const LEAST_LEFT = 1e-7;

/**
 * Logistic regression ln(p/(1−p)) = row · coefficients for yes/no results, single or grouped.
 *
 * @param rows - n rows of k columns; the constant column of ones is one of them if it is wanted
 * @param y - n results: 0 or 1, or with `options.trials` the number of successes
 * @throws {InputError} LENGTH_MISMATCH, NOT_FINITE, NOT_A_RESULT, TOO_FEW_ROWS, RANK_DEFICIENT; SEPARATED_DATA when
 *   a combination of the columns parts the results completely or nearly so and no penalty was asked for: the maximum
 *   then lies at infinity and any number returned would be where the iteration happened to stop
 * @remarks Newton's method on orthonormal columns that span the same space, step halving.
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
  requireGoodData(rows, y, trials, options.names);
  const columns = rows[0].map((_, j) => Float64Array.from(rows, (row) => row[j]));
  const { q, inverseR } = independent(columns, options.names ?? []);
  const problem: Problem = { columns: q, y, trials, firth: options.penalty === 'firth' };
  const { state, iterations } = maximise(problem);
  const coefficients = inverseR.map((row) => dot(row, state.at));
  const covariance = inverseR.map((a) => inverseR.map((b) => bilinear(a, state.qr.inverse, b)));
  const standardErrors = covariance.map((row, j) => Math.sqrt(row[j]));
  const zRatios = coefficients.map((c, j) => c / standardErrors[j]);
  const saturated = sum(y.map((value, i) => binomialLog(value, trials[i], value / trials[i])));
  const hasConstant = columns.some((column) => column.every((value) => value === column[0]));
  const share = sum(y) / sum(trials);
  const logLikelihoodNull = hasConstant ? sum(y.map((value, i) => binomialLog(value, trials[i], share))) : undefined;
  const { logLikelihood } = state;
  return {
    coefficients,
    standardErrors,
    covariance,
    zRatios,
    pValues: zRatios.map(twoSidedNormalP),
    logLikelihood,
    residualDeviance: 2 * (saturated - logLikelihood),
    ...(logLikelihoodNull === undefined
      ? {}
      : {
          logLikelihoodNull,
          nullDeviance: 2 * (saturated - logLikelihoodNull),
          likelihoodRatio: 2 * (logLikelihood - logLikelihoodNull),
        }),
    aic: -2 * (logLikelihood + sum(y.map((value, i) => logChoose(trials[i], value)))) + 2 * coefficients.length,
    fitted: state.p,
    // The information of the columns as they were given.
    ...(problem.firth ? { penalisedLogLikelihood: state.objective + halfLogDet(inverseR) } : {}),
    iterations,
    stopping: `largest move of a logit below ${LOGIT_TOLERANCE} after ${iterations} steps`,
  };
}

/** Refuses data that no logistic fit can use. */
function requireGoodData(
  rows: readonly (readonly number[])[],
  y: readonly number[],
  trials: readonly number[],
  names: LogisticOptions['names'],
): void {
  const width = rows[0]?.length ?? 0;
  const told = names?.length ?? width;
  demand(told === width, 'LENGTH_MISMATCH', `expected ${width} names, found ${told}.`, 'Give one for every column.');
  demand(
    rows.length === y.length && rows.length === trials.length && rows.every((row) => row.length === width),
    'LENGTH_MISMATCH',
    `expected as many results and trials as rows, and rows of one length; found ${rows.length} rows, ${y.length} results, ${trials.length} trials.`,
    'Give one result (and one number of trials) for every row.',
  );
  const few = `expected at least as many rows as columns, found ${rows.length} rows of ${width}.`;
  demand(width > 0 && rows.length >= width, 'TOO_FEW_ROWS', few, 'Add readings or leave columns out.');
  rows.forEach((row, i) => {
    const found = `expected finite numbers, row ${i + 1} holds ${row.join(', ')}.`;
    demand(row.every(Number.isFinite), 'NOT_FINITE', found, 'Correct the row.');
    demand(
      trials[i] > 0 && trials[i] < Number.POSITIVE_INFINITY && y[i] >= 0 && y[i] <= trials[i],
      'NOT_A_RESULT',
      `expected a result from 0 to the number of trials, row ${i + 1} has ${y[i]} of ${trials[i]}.`,
      'Give 0 or 1, or the successes and the trials.',
    );
  });
}

/**
 * Orthonormal columns for those that were given, so that powers, products and what lies far from zero keep their digits,
 * and the way back: coefficients = R⁻¹ · theirs.
 *
 * @throws {InputError} RANK_DEFICIENT naming the first column that is a combination of the columns before it
 */
function independent(columns: readonly Float64Array[], names: readonly string[]): WeightedQr {
  const ones = columns[0].map(() => 1);
  const upTo = (count: number): WeightedQr => weightedQr(columns.slice(0, count), ones, ones);
  const first = columns.findIndex((_, j) => !(upTo(j + 1).leastLeft > RANK_TOLERANCE));
  if (first < 0) return upTo(columns.length);
  const name = names[first] ?? `x${first + 1}`;
  throw new InputError({
    code: 'RANK_DEFICIENT',
    place: { key: name },
    message: columns[first].some((value) => value !== 0)
      ? `"${name}" is a combination of the columns before it; its coefficient can't be found.`
      : `"${name}" holds only zeros; its coefficient can't be found.`,
    hint: 'Leave the column out, or add readings in which it varies by itself.',
  });
}

interface Problem {
  readonly columns: readonly Float64Array[];
  readonly y: readonly number[];
  readonly trials: readonly number[];
  readonly firth: boolean;
}

type State = NonNullable<ReturnType<typeof stateAt>>;

/** ln(1 + e^η). */
function softplus(eta: number): number {
  return eta > 0 ? eta + Math.log1p(Math.exp(-eta)) : Math.log1p(Math.exp(eta));
}

/** ½ ln det (RᵀR). */
const halfLogDet = (inverseR: readonly (readonly number[])[]): number =>
  -sum(inverseR.map((row, j) => Math.log(row[j])));

const logitsOf = ({ columns, y }: Problem, at: readonly number[]): number[] =>
  y.map((_, i) => columns.reduce((total, column, j) => total + column[i] * at[j], 0));

/** With the `objective`, which is to be as large as it can be; undefined where the rows that still tell something no longer tell all coefficients. */
function stateAt(problem: Problem, at: readonly number[]) {
  const { columns, y, trials, firth } = problem;
  const eta = logitsOf(problem, at);
  // The weight p(1 − p) as a product of two tails keeps its digits when p is nearly 1.
  const weights = Float64Array.from(eta, (e, i) => trials[i] * expit(e) * expit(-e));
  const qr = weightedQr(columns, weights, weights);
  if (!(qr.leastLeft > LEAST_LEFT)) return undefined;
  const logLikelihood = eta.reduce((sum, e, i) => sum - y[i] * softplus(-e) - (trials[i] - y[i]) * softplus(e), 0);
  const objective = logLikelihood + (firth ? halfLogDet(qr.inverseR) : 0);
  return { at, p: eta.map(expit), qr, logLikelihood, objective };
}

/** Newton's step. */
function stepFrom({ columns, y, trials, firth }: Problem, { p, qr }: State): number[] {
  const excess = p.map((own, i) => y[i] - trials[i] * own + (firth ? qr.leverages[i] * (0.5 - own) : 0));
  const score = columns.map((column) => dot(column, excess));
  return qr.inverse.map((row) => dot(row, score));
}

function maximise(problem: Problem): { readonly state: State; readonly iterations: number } {
  const moved = (from: State, step: readonly number[], share = 1): State | undefined =>
    stateAt(
      problem,
      from.at.map((value, j) => value + share * step[j]),
    );
  let state = stateAt(
    problem,
    problem.columns.map(() => 0),
  )!;
  let smallest = Number.POSITIVE_INFINITY;
  let stalled = 0;
  for (let iterations = 1; ; iterations += 1) {
    const step = stepFrom(problem, state);
    const size = Math.max(...logitsOf(problem, step).map(Math.abs));
    if (size < LOGIT_TOLERANCE) return { state: moved(state, step) ?? state, iterations };
    stalled = size < 0.9 * smallest ? 0 : stalled + 1;
    smallest = Math.min(smallest, size);
    let next: State | undefined;
    // The step, halved until the objective does not fall.
    for (let share = 1; !next && share > 1e-10; share /= 2) {
      const there = moved(state, step, share);
      if (there && there.objective >= state.objective - 1e-13 * Math.abs(state.objective)) next = there;
    }
    if (!next && size < ROUNDING) return { state, iterations };
    if (!next || (!problem.firth && stalled > PATIENCE) || iterations === MAX_ITERATIONS)
      throw noMaximum(problem, step);
    state = next;
  }
}

/** Says why there is no maximum: separated data with proof, or plainly that it was not found. */
function noMaximum(problem: Problem, direction: readonly number[]): InputError {
  const { y, trials, firth } = problem;
  if (firth) {
    return new InputError({
      code: 'NOT_CONVERGED',
      message: 'the fit does not settle.',
      hint: 'Check the rows for values of very different size or mistyped ones.',
    });
  }
  const sides = logitsOf(problem, direction);
  const reach = 1e-3 * Math.max(...sides.map(Math.abs));
  const parted = sides.every((side, i) => (y[i] === 0 || side >= -reach) && (y[i] === trials[i] || side <= reach));
  return new InputError({
    code: parted ? 'SEPARATED_DATA' : 'NO_MAXIMUM',
    message: parted
      ? 'a combination of the columns parts the results (nearly) completely, so the best coefficients are infinite.'
      : 'the likelihood has no maximum that could be found; the results are probably (nearly) parted by the columns.',
    hint: 'Use the penalty "firth", which gives finite answers, or add readings where the results mix.',
  });
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

import { demand } from '../../errors.js';
import { dot, type WeightedQr, weightedQr } from '../linear/weighted-qr.js';
import { type Design, type FitLength, type Linearised, linearise, stepFrom, withPriors } from './design.js';
import {
  effectiveDofs,
  invertSymmetric,
  LEAST_VARIANCE,
  roundingVariance,
  type ScatterEstimate,
  type ScatterGroup,
  type ScatterPrior,
  scatterGroups,
  scatterStep,
  withUnsureWeights,
} from './scatter.js';

export type WeightedFit = ReturnType<typeof result>;

const MAX_ROUNDS = 400;
const UNDAMPED = 40;
/** Where all variances, or all parameters, creep one way, a step leads as far as all that would follow: every so many rounds. */
const LOOK_AHEAD_EVERY = 5;
const MOST_AHEAD = 30;
/** Once the variances move by less than this share, and the parameters by less of their uncertainty, nobody could see it. */
const SETTLED = 1e-7;
const STEP_TOLERANCE = 1e-9;
/** What still creeps by so many times as much in the last round is taken as it is: a ten thousandth of its uncertainty. */
const CREEPS = 1e5;
/** Scatter that a careful reader has, mm: taken where the readings leave nothing over to tell it by. */
const USUAL_SCATTER_MM = 0.01;
/**
 * What is known of a gauge's scatter before its readings are looked at, in readings: that of the coarsest at hand. A
 * loupe that reads to 5 µm says nothing of the caliper beside it.
 */
const PRIOR_DOF = 1;
/**
 * Where the prior is the gauge's own scatter, it steadies the fit and makes nothing surer. Where a gauge's own scatter is
 * drawn up to that of a coarser one, it errs to one side: its variance is less unsure than so few readings say.
 */
const DRAWN_UP_COUNTS = 3;
/** What is left to be estimated by the readings, when nothing is: fewer than this many degrees of freedom. */
const LEAST_DOF = 0.5;

/**
 * Fits a design with weights from each gauge: variance = rounding (step²/12) + the scatter found in that gauge's
 * readings. The scatter is estimated by restricted maximum likelihood, so with one gauge the result is plain least
 * squares with the usual s²; with several, the scatter of a gauge with few readings is drawn towards what all have in common.
 *
 * @throws {InputError} NOT_CONVERGED
 */
export function weightedFit(design: Design, start: readonly number[]): WeightedFit {
  const { lengths } = design;
  const groups = scatterGroups(lengths);
  const known = Float64Array.from(lengths, ({ resolutionMm }) => roundingVariance(resolutionMm));
  const weightsFor = (variances: readonly number[]): Float64Array => {
    const weights = new Float64Array(lengths.length);
    groups.forEach(({ members }, g) => {
      for (const i of members) weights[i] = 1 / Math.max(LEAST_VARIANCE, known[i] + variances[g]);
    });
    return withPriors(weights, design);
  };
  const first = [...start.slice(0, 5), ...design.terms.map((_, t) => start[5 + t] ?? 0)];
  const usual = weightsFor(groups.map(() => USUAL_SCATTER_MM ** 2));
  let { next: state, qr } = stepFrom(design, usual, linearise(design, first));
  const dof = dofOf(lengths, qr);
  const prior = priorFor(groups, dof, state.residuals, qr.leverages);
  const own = state.residuals.subarray(0, lengths.length);
  let variances = groups.map(({ certain }) => (certain ? 0 : prior?.variance) ?? dot(own, own) / Math.max(1, dof));
  let weights = weightsFor(variances);
  let lastStep: readonly number[] = [];
  let lastMoves: readonly number[] = [];
  for (let round = 1; ; round += 1) {
    const before = state;
    ({ next: state, qr } = stepFrom(design, weights, state));
    // What no reading tells apart lies in a valley that bends: whole steps may go to and fro across it, or creep along it.
    if (round >= UNDAMPED) {
      const moves = state.parameters.map((value, k) => (value - before.parameters[k]) / 2);
      const along = moves.map((move, k) => move / Math.sqrt(qr.inverse[k][k]));
      const far = round % LOOK_AHEAD_EVERY === 0 ? ahead(along, lastMoves) : 1;
      lastMoves = far === 1 ? along : [];
      state = linearise(
        design,
        moves.map((move, k) => before.parameters[k] + far * move),
      );
    }
    demand(
      state.parameters.every(Number.isFinite) && round <= MAX_ROUNDS,
      'NOT_CONVERGED',
      'the fit of these readings does not come to rest: they contradict each other, or a resolution is far from the truth.',
      'Look at the column resolution_mm, and read the longest spans and some widths again.',
    );
    const loose = round < MAX_ROUNDS ? 1 : CREEPS;
    const still = state.parameters.every(
      (value, k) =>
        Math.abs(value - before.parameters[k]) <=
        loose * STEP_TOLERANCE * Math.sqrt(qr.inverse[k][k]) + 1e-11 * (Math.abs(value) + 0.1),
    );
    const estimate = scatterStep({ groups, weights, qr }, prior, variances, state.residuals);
    const settled = estimate.variances.every(
      (variance, g) =>
        Math.abs(variance - variances[g]) <=
        loose * SETTLED * (variance + LEAST_VARIANCE + known[groups[g].members[0]]),
    );
    const step = estimate.variances.map((variance, g) => variance - variances[g]);
    // At the edge of what variances can be, steps may overshoot to and fro.
    const share = (round < UNDAMPED ? 1 : 0.5) * (round % LOOK_AHEAD_EVERY === 0 ? ahead(step, lastStep) : 1);
    variances = variances.map((variance, g) => Math.max(0, variance + share * step[g]));
    lastStep = step;
    weights = weightsFor(variances);
    if (settled && still) {
      const scatter = { variances, covariance: invertSymmetric(estimate.evidence) };
      return result(state, { design, weights, groups, scatter, dof, iterations: round });
    }
  }
}

/**
 * How many times a step all that follow lead, when each is the same share of the one before (A. C. Aitken, Proc. R. Soc.
 * Edinburgh 46 (1926) 289-305).
 */
function ahead(step: readonly number[], last: readonly number[]): number {
  const share = last.length > 0 ? dot(step, last) / dot(last, last) : 0;
  return share > 0 && share < 1 ? Math.min(MOST_AHEAD, 1 / (1 - share)) : 1;
}

/** What the iteration came to rest with. */
interface Settled {
  readonly design: Design;
  /** 1/variance of the readings, and behind them of the priors. */
  readonly weights: Float64Array;
  readonly groups: readonly ScatterGroup[];
  readonly scatter: ScatterEstimate;
  /** Readings less parameters that they tell. */
  readonly dof: number;
  readonly iterations: number;
}

function result({ columns, residuals, parameters }: Linearised, settled: Settled) {
  const { design, weights, groups, scatter } = settled;
  const qr = weightedQr(columns, residuals, weights);
  return {
    ...settled,
    /** The five, then the terms. */
    parameters,
    /** Of all parameters. */
    covariance: withUnsureWeights({ groups, weights, qr }, scatter.covariance),
    /** For each parameter: degrees of freedom of its variance. */
    parameterDof: effectiveDofs({ groups, weights, qr }, scatter.covariance),
    /** reading - predicted, mm, for the readings. */
    residuals: residuals.subarray(0, design.lengths.length),
    columns,
    qr,
    /** For each group: degrees of freedom of its variance. */
    groupDof: groups.map(({ members }, g) => {
      const total = 1 / weights[members[0]];
      return (2 * total * total) / scatter.covariance[g][g];
    }),
  };
}

/** Readings less what they tell: priors take up what they don't. */
function dofOf(lengths: readonly FitLength[], qr: WeightedQr): number {
  let sum = 0;
  for (let i = 0; i < lengths.length; i += 1) sum += 1 - qr.leverages[i];
  return Math.round(sum);
}

/** With one gauge and readings to spare, its own scatter is all that counts. */
function priorFor(
  groups: readonly ScatterGroup[],
  dof: number,
  residuals: Float64Array,
  leverages: Float64Array,
): ScatterPrior | undefined {
  if (dof < LEAST_DOF) return { variance: USUAL_SCATTER_MM ** 2, dof: 3, all: true };
  if (groups.length === 1) return undefined;
  const squares = groups.map(({ members }) => members.reduce((sum, i) => sum + residuals[i] ** 2, 0));
  const own = groups.map(({ members }, g) => {
    const spare = members.reduce((sum, i) => sum + 1 - leverages[i], 0);
    return spare < SPARE_OF_OWN ? 0 : squares[g] / spare;
  });
  const all = squares.reduce((sum, square) => sum + square, 0) / Math.max(1, dof);
  const variance = Math.max(all, ...own);
  const counts = own.map((square) => (square === variance ? 0 : square > 0 ? DRAWN_UP_COUNTS : 1));
  return { variance, dof: PRIOR_DOF, counts };
}

/** The mean square of fewer readings than this beyond what they tell is nobody's measure. */
const SPARE_OF_OWN = 2;

/** Variance of a reading, mm²: its gauge's rounding and the scatter found with that gauge. */
export function readingVariance(
  { noise, resolutionMm }: Pick<FitLength, 'noise' | 'resolutionMm'>,
  fit: WeightedFit,
): number {
  const g = fit.groups.findIndex((group) => group.noise === noise);
  const own = g >= 0 ? fit.scatter.variances[g] : Math.max(...fit.scatter.variances);
  return Math.max(own + roundingVariance(resolutionMm), LEAST_VARIANCE);
}

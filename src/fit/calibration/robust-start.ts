import { median } from '../statistics/averages.js';
import { type Design, type Linearised, linearise, stepFrom, withPriors } from './design.js';
import { roundingVariance, scatterGroups } from './scatter.js';

/** Where most readings agree. */
export interface RobustStart {
  /** The five, then the terms. */
  readonly parameters: readonly number[];
  /** Of the readings, mm. */
  readonly residuals: Float64Array;
  /** Robust standard deviation of each reading, mm. */
  readonly sd: Float64Array;
}

/** Tukey's bisquare at 95 % efficiency for normal errors. */
const BISQUARE = 4.685;
/** Median absolute deviation to standard deviation of a normal distribution. */
const MAD_TO_SD = 1.482602218505602;
const FLOOR_SD_MM = 1e-6;
/** The median of fewer readings of a gauge says nothing of its scatter. */
const ENOUGH_FOR_OWN = 8;
const ABSOLUTE_ROUNDS = 60;
const MAX_ROUNDS = 200;
/** Steps that matter no more: this only finds a start. Ratios, and mm. */
const SETTLED = 1e-6;

/**
 * A fit that gross errors hardly move: a start by medians or by least absolute deviations (what is measured where is
 * known exactly, so only the readings can be wrong, and both stand until nearly half of those that bear on a parameter
 * are), the scale of each gauge from the median absolute deviation, then Tukey's bisquare by reweighting until it
 * stands still.
 *
 * Source: P. J. Huber, Robust Statistics (1981), 6.7; P. J. Rousseeuw, A. M. Leroy, Robust Regression and Outlier
 * Detection (1987), ch. 3; V. J. Yohai, Ann. Statist. 15 (1987) 642-656 for the order: high breakdown first, scale
 * kept, then an efficient M-estimate.
 */
export function robustStart(design: Design, start: readonly number[]): RobustStart {
  const first = [...start.slice(0, 5), ...design.terms.map(() => 0)];
  let state = highBreakdownStart(design, first);
  const sd = gaugeSd(design, state.residuals);
  const cost = (residuals: Float64Array): number => boundedCost(residuals, sd);
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const weights = withPriors(rowWeights(state.residuals, sd), design);
    const { next } = stepFrom(design, weights, state, cost);
    const before = state.parameters;
    const still = next.parameters.every((value, k) => Math.abs(value - before[k]) <= SETTLED * 1e-3);
    state = next;
    if (still) break;
  }
  return { parameters: state.parameters, residuals: state.residuals.subarray(0, sd.length), sd };
}

/** The start by medians or the least absolute deviations, whichever more readings agree with. */
function highBreakdownStart(design: Design, start: readonly number[]): Linearised {
  const unit = Float64Array.from(design.lengths, ({ resolutionMm }) => Math.max(resolutionMm / 2, 0.002));
  const byMedians: Linearised = linearise(design, start);
  let absolute = byMedians;
  for (let round = 0; round < ABSOLUTE_ROUNDS; round += 1) {
    const weights = unit.map((u, i) => 1 / (u * Math.max(Math.abs(absolute.residuals[i]), 1e-3 * u)));
    const { next } = stepFrom(design, withPriors(weights, design), absolute);
    const before = absolute.parameters;
    const settled = next.parameters.every((value, k) => Math.abs(value - before[k]) < SETTLED);
    absolute = next;
    if (settled) break;
  }
  if (!absolute.parameters.every(Number.isFinite)) return byMedians;
  const [a, b] = [absolute, byMedians].map(({ residuals }) => gaugeSd(design, residuals));
  const sd = a.map((value, i) => Math.min(value, b[i]));
  return boundedCost(absolute.residuals, sd) <= boundedCost(byMedians.residuals, sd) ? absolute : byMedians;
}

/** Tukey's loss: 1 for each reading that counts for nothing, less for the others. */
function boundedCost(residuals: Float64Array, sd: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < sd.length; i += 1) {
    const u = residuals[i] / (BISQUARE * sd[i]);
    sum += Math.abs(u) < 1 ? 1 - (1 - u * u) ** 3 : 1;
  }
  return sum;
}

/** Weights of zero would make the problem singular when all readings of a kind are off: they keep a trace. */
const TRACE = 1e-10;

function rowWeights(residuals: Float64Array, sd: Float64Array): Float64Array {
  return sd.map((own, i) => {
    const u = residuals[i] / (BISQUARE * own);
    return Math.max(Math.abs(u) < 1 ? (1 - u * u) ** 2 : 0, TRACE) / (own * own);
  });
}

function gaugeSd({ lengths, terms }: Design, residuals: Float64Array): Float64Array {
  const sd = new Float64Array(lengths.length);
  const freedom = Math.sqrt(lengths.length / Math.max(1, lengths.length - 5 - terms.length));
  const groups = scatterGroups(lengths);
  const few = groups.filter(({ members }) => members.length < ENOUGH_FOR_OWN).flatMap(({ members }) => members);
  const pools = [...groups.map(({ members }) => members).filter((m) => m.length >= ENOUGH_FOR_OWN), few];
  for (const members of pools) {
    const mad = median(members.map((i) => Math.abs(residuals[i]))) ?? 0;
    for (const i of members) {
      const rounding = Math.sqrt(roundingVariance(lengths[i].resolutionMm));
      sd[i] = Math.max(MAD_TO_SD * mad * freedom, rounding, FLOOR_SD_MM);
    }
  }
  return sd;
}

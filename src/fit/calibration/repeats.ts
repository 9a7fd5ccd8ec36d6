import { grouped } from '../../kept.js';
import { chanceWords, fisherUpper } from '../statistics/distributions.js';
import { type Design, pick } from './design.js';
import type { Observation } from './observations.js';
import { LEAST_VARIANCE, roundingVariance } from './scatter.js';
import type { WeightedFit } from './weighted-fit.js';

/** Repeat readings held against the model. */
export type LackOfFit = NonNullable<ReturnType<typeof lackOfFit>>;

/** Below this the model (or the coupon) is to blame, not chance. */
const SIGNIFICANT = 0.05;

/**
 * Tells pure error (repeats of one thing) and lack of fit (means of groups against the model) apart.
 *
 * @param residuals - observation - fitted, one for each row
 * @param groups - which rows repeat each other: equal labels
 * @param parameterCount - fitted parameters
 * @param weights - proportional to 1/variance, default equal
 * @param rounding - variance of each row by its gauge's steps alone: equal numbers differ by no less; default none
 * @returns undefined when nothing was repeated or there are no more groups than parameters
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.4.6 (lack of fit with replicates); N. R. Draper,
 * H. Smith, Applied Regression Analysis, 2nd ed. (1981), 1.5.
 */
export function lackOfFit(
  residuals: ArrayLike<number>,
  groups: readonly (string | number)[],
  parameterCount: number,
  weights?: ArrayLike<number>,
  rounding?: ArrayLike<number>,
) {
  const weight = (i: number): number => weights?.[i] ?? 1;
  const alike = [...grouped(groups.keys(), (i) => groups[i]).values()];
  const pureErrorDof = groups.length - alike.length;
  const lackOfFitDof = alike.length - parameterCount;
  if (pureErrorDof < 1 || lackOfFitDof < 1) return undefined;
  let [pure, least, lack] = [0, 0, 0];
  for (const own of alike) {
    const weighted = (of: (i: number) => number): number => own.reduce((sum, i) => sum + weight(i) * of(i), 0);
    const mean = weighted((i) => residuals[i]) / weighted(() => 1);
    pure += weighted((i) => (residuals[i] - mean) ** 2);
    least += weighted((i) => (rounding?.[i] ?? 0) * (1 - 1 / own.length));
    lack += weighted(() => mean ** 2);
  }
  pure = Math.max(pure, least);
  const f = lack / lackOfFitDof / (pure / pureErrorDof);
  const p = fisherUpper(f, lackOfFitDof, pureErrorDof);
  const numbers = `F ${f > 1e6 ? 'above a million' : `= ${f.toFixed(2)}`} with ${lackOfFitDof} and ${pureErrorDof} degrees of freedom, ${chanceWords(p)}`;
  return {
    /** Standard deviation of repeats about the mean of their own group. */
    pureErrorSd: Math.sqrt(pure / pureErrorDof),
    pureErrorDof,
    lackOfFitSd: Math.sqrt(lack / lackOfFitDof),
    lackOfFitDof,
    f,
    /** Probability of an F as large by chance alone. */
    p,
    sentence:
      p < SIGNIFICANT
        ? `Repeat readings agree better with each other than with the model (${numbers}): something that the model doesn't know differs from feature to feature.`
        : `What the model leaves over is no more than repeat readings scatter (${numbers}).`,
  };
}

/** Whether repeats of one feature must count as one reading, because they share an error that the model doesn't know. */
export function repeatsShareErrors(result: LackOfFit | undefined): result is LackOfFit {
  return result !== undefined && result.p < SIGNIFICANT;
}

const keyOf = ({ session, feature, noise, kind }: Observation): string => `${session} ${feature.id} ${kind} ${noise}`;

/** Pure error against lack of fit, where a feature was read more than once with one gauge. */
export function lackOfFitOf(fit: WeightedFit): LackOfFit | undefined {
  const lengths = fit.design.lengths as readonly Observation[];
  const rounding = lengths.map(({ resolutionMm }) => roundingVariance(resolutionMm));
  return lackOfFit(fit.residuals, lengths.map(keyOf), lengths.length - fit.dof, fit.weights, rounding);
}

/** The same on any day: the film may be the same piece, read again. */
export const anyDay = ({ kind, noise, dx, dy, feature }: Observation): string =>
  `${kind} ${noise} ${dx} ${dy} ${'from' in feature ? feature.from : feature.id}`;

/**
 * A design with each feature's readings as one, their mean: for what shows between features and not between repeats.
 *
 * @param key - equal for readings that repeat each other; default: those of one feature in one session
 */
export function designOfMeans(design: Design, key: (length: Observation) => string = keyOf): Design {
  const rows = [...grouped(design.lengths.keys(), (i) => key(design.lengths[i] as Observation)).values()];
  if (rows.length === design.lengths.length) return design;
  const one = pick(
    design,
    rows.map(([first]) => first),
  );
  // Weighed by what each says of itself: a later scan, whose scale is another, says less.
  const weights = design.lengths.map(
    ({ resolutionMm }) => 1 / Math.max(LEAST_VARIANCE, roundingVariance(resolutionMm)),
  );
  const meanMm = (row: readonly number[]): number =>
    row.reduce((sum, i) => sum + weights[i] * design.lengths[i].valueMm, 0) / row.reduce((sum, i) => sum + weights[i], 0); // biome-ignore format: one mean
  return { ...one, lengths: one.lengths.map((length, r) => ({ ...length, valueMm: meanMm(rows[r]) })) };
}

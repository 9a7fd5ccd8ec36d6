import { type Design, pick } from './design.js';
import { type LackOfFit, lackOfFit } from './lack-of-fit.js';
import type { Observation } from './observations.js';
import { roundingVariance } from './scatter.js';
import type { WeightedFit } from './weighted-fit.js';

const keyOf = ({ session, feature, noise, kind }: Observation): string => `${session} ${feature.id} ${kind} ${noise}`;

/** Pure error against lack of fit, where a feature was read more than once with one gauge. */
export function lackOfFitOf(lengths: readonly Observation[], fit: WeightedFit): LackOfFit | undefined {
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
  const groups = new Map<string, number[]>();
  design.lengths.forEach((length, i) => {
    const own = key(length as Observation);
    const group = groups.get(own);
    if (group) group.push(i);
    else groups.set(own, [i]);
  });
  if (groups.size === design.lengths.length) return design;
  const rows = [...groups.values()];
  const one = pick(
    design,
    rows.map(([first]) => first),
  );
  const meanMm = (row: readonly number[]): number =>
    row.reduce((sum, i) => sum + design.lengths[i].valueMm, 0) / row.length;
  return { ...one, lengths: one.lengths.map((length, r) => ({ ...length, valueMm: meanMm(rows[r]) })) };
}

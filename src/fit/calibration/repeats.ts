import { type LackOfFit, lackOfFit } from './lack-of-fit.js';
import type { Observation } from './observations.js';
import type { WeightedFit } from './weighted-fit.js';

const keyOf = ({ session, feature, noise, kind }: Observation): string => `${session} ${feature.id} ${kind} ${noise}`;

/** Pure error against lack of fit, where a feature was read more than once with one gauge. */
export function lackOfFitOf(lengths: readonly Observation[], fit: WeightedFit): LackOfFit | undefined {
  return lackOfFit(fit.residuals, lengths.map(keyOf), lengths.length - fit.dof, fit.weights);
}

/** Each feature's readings as one, their mean: for features that differ by more than their repeats scatter. */
export function meansOfRepeats(lengths: readonly Observation[]): Observation[] {
  const groups = new Map<string, Observation[]>();
  for (const length of lengths) {
    const group = groups.get(keyOf(length));
    if (group) group.push(length);
    else groups.set(keyOf(length), [length]);
  }
  return [...groups.values()].map((group) => ({
    ...group[0],
    valueMm: group.reduce((sum, { valueMm }) => sum + valueMm, 0) / group.length,
  }));
}

import type { DimensionalFeature } from '../../coupon/features.js';

/** Readings that bring nearly as much are as good: a place on the bed that nobody has looked at is worth more. */
const AS_GOOD = 1.02;

/** Of the features with nearly the lowest score the one farthest from all chosen ones of its kind and direction. */
export function spreadChoice(
  features: readonly DimensionalFeature[],
  score: (feature: DimensionalFeature) => number,
  chosen: readonly DimensionalFeature[],
): DimensionalFeature {
  const scored = features.map((feature) => ({ feature, score: score(feature) }));
  const lowest = Math.min(...scored.map((one) => one.score));
  const good = scored.filter((one) => one.score <= AS_GOOD * lowest + 1e-12).map((one) => one.feature);
  const distances = good.map((feature) => nearest(feature, chosen));
  return good[distances.indexOf(Math.max(...distances))];
}

function nearest(feature: DimensionalFeature, chosen: readonly DimensionalFeature[]): number {
  const [x, y] = middle(feature);
  const alike = chosen.filter((other) => other.kind === feature.kind && direction(other) === direction(feature));
  return Math.min(1e6, ...alike.map((other) => Math.hypot(middle(other)[0] - x, middle(other)[1] - y)));
}

const middle = ({ from, to }: DimensionalFeature): [number, number] => [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];

function direction({ from, to }: DimensionalFeature): string {
  if (from[1] === to[1]) return 'x';
  if (from[0] === to[0]) return 'y';
  return to[1] > from[1] === to[0] > from[0] ? 'rising' : 'falling';
}

import { type Feature, isForJaws } from '../../coupon/features.js';
import type { ReadingOrder } from '../../readings/blank-readings.js';
import { planReadings, USUAL_GAUGE, USUAL_TARGETS } from './plan-readings.js';
import { targetWords } from './plan-words.js';

/** Fewer features than this are read all the same. */
const WORTH_A_PLAN = 12;

/** The order in which a coupon is read; undefined when there is nothing to choose. */
export function couponOrder({
  features: { features },
}: {
  readonly features: { readonly features: readonly Feature[] };
}): ReadingOrder | undefined {
  const { order, first, determined, reaches } = planReadings(features);
  if (order.length < WORTH_A_PLAN || first >= order.length) return undefined;
  const enough = `${reaches ? 'enough for' : 'they go far towards'} ${targetWords(determined, USUAL_TARGETS)}`;
  const gauge = `with a gauge and a hand that scatter by ${(1000 * USUAL_GAUGE.noiseMm).toFixed(0)} µm`;
  const lengths = order.map(({ feature }) => feature);
  const head = lengths.slice(0, first);
  const withJaws = planReadings(features, { gauge: { takes: 'windows' } });
  const gripped = withJaws.order
    .slice(0, withJaws.first)
    .flatMap(({ feature }) => (isForJaws(feature) ? [feature] : []));
  const rest = lengths.slice(first).filter((feature) => !gripped.includes(feature));
  return {
    features: [...head, ...gripped, ...rest, ...features.filter((feature) => !('from' in feature))],
    first,
    forJaws: gripped.length,
    enoughFor: `${enough}, ${gauge}`,
  };
}

import { type Feature, isForJaws } from '../../coupon/features.js';
import type { ProfileFit } from '../../machine/types.js';
import type { ReadingOrder } from '../../readings/blank-readings.js';
import { isStraight, likelyNoiseMm, type PlanGauge, planReadings, USUAL_GAUGE } from './plan-readings.js';
import { targetWords } from './plan-words.js';

/** Fewer features than this are read all the same. */
const WORTH_A_PLAN = 12;

/** What a coupon's lengths are read with, where that is known. */
export interface ReadWith {
  readonly takes: 'edges' | 'windows';
  readonly stepMm: number;
}

/** A careful hand, or the rounding where that is more: steps of 0.01 mm are within what a hand scatters by. */
function planGauge({ takes, stepMm }: ReadWith): Partial<PlanGauge> {
  return { takes, noiseMm: Math.max(USUAL_GAUGE.noiseMm, stepMm / Math.sqrt(12)) };
}

/** The gauge as the readings so far show it, and as it is known. */
export function gaugeSoFar(fit: ProfileFit, read: readonly Feature[], known?: ReadWith): PlanGauge {
  const straight = read.some(({ kind, ...one }) => kind === 'span' && 'from' in one && isStraight(one));
  const takes = read.some(isForJaws) ? { takes: straight ? ('both' as const) : ('windows' as const) } : {};
  const gauge = { ...USUAL_GAUGE, ...(known ? planGauge(known) : takes) };
  return { ...gauge, noiseMm: likelyNoiseMm(fit, gauge.noiseMm) };
}

/**
 * The order in which a coupon is read; undefined when there is nothing to choose.
 *
 * @param known - a caliper's windows or sighted edges come first; where nothing is known, edges and windows beside them
 */
export function couponOrder(
  { features: { features } }: { readonly features: { readonly features: readonly Feature[] } },
  known?: ReadWith,
): ReadingOrder | undefined {
  const own = known && planGauge(known.takes === 'windows' && features.some(isForJaws) ? known : { ...known, takes: 'edges' }); // biome-ignore format: one thought
  const { order, first, determined, reaches } = planReadings(features, { gauge: own });
  if (order.length < WORTH_A_PLAN || first >= order.length) return undefined;
  const enough = `${reaches ? 'enough for' : 'they go far towards'} ${targetWords(determined)}`;
  const gauge = `with a gauge and a hand that scatter by ${(1000 * (own?.noiseMm ?? USUAL_GAUGE.noiseMm)).toFixed(0)} µm`;
  const lengths = order.map(({ feature }) => feature);
  const head = lengths.slice(0, first);
  const gripped = known ? [] : windowsFirst(features);
  const rest = lengths.slice(first).filter((feature) => !gripped.includes(feature));
  return {
    features: [...head, ...gripped, ...rest, ...features.filter((feature) => !('from' in feature))],
    first,
    reaches,
    forJaws: gripped.length,
    enoughFor: `${enough}, ${gauge}`,
  };
}

function windowsFirst(features: readonly Feature[]): Feature[] {
  const { order, first } = planReadings(features, { gauge: { takes: 'windows' } });
  return order.slice(0, first).flatMap(({ feature }) => (isForJaws(feature) ? [feature] : []));
}

import type { DimensionalFeature } from '../../coupon/features.js';
import type { CalibrationResult } from '../../fit/calibration/index.js';
import { planReadings, planSentences, USUAL_GAUGE, USUAL_TARGETS } from '../../fit/plan/index.js';
import { PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { expanded } from './words.js';

/** Fewer spare readings than this say nothing about the gauge's noise. */
const ENOUGH_SPARE = 6;

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function nextReadings({ fit }: CalibrationResult, sessions: readonly ReadingSession[]): string[] {
  const own = sessions.filter(({ refused }) => !refused);
  const lengths = own.map(({ features }) => features.filter((one): one is DimensionalFeature => 'from' in one));
  const already = own.flatMap(({ readings }, i) => {
    const byId = new Map(lengths[i].map((feature) => [feature.id, feature]));
    return readings.flatMap(({ feature, readingMm, dropped }) => {
      const found = readingMm === undefined || dropped ? undefined : byId.get(feature);
      return found ? [found] : [];
    });
  });
  const noise = fit.dof >= ENOUGH_SPARE ? { noiseMm: fit.residualSdMm, resolutionMm: 0 } : {};
  const plan = planReadings(lengths.flat(), { gauge: { ...USUAL_GAUGE, ...noise }, already });
  const reached = Object.fromEntries(
    PARAMETER_NAMES.map((name) => [name, fit[name].assumed ? undefined : expanded(fit[name], fit.dof)]),
  ) as Record<ParameterName, number | undefined>;
  return planSentences(reached, plan, USUAL_TARGETS);
}

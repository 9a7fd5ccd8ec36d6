import { type DimensionalFeature, isForJaws } from '../../coupon/features.js';
import { type CalibrationOptions, type CalibrationResult, foreseen } from '../../fit/calibration/index.js';
import { planReadings, planSentences, USUAL_GAUGE, USUAL_TARGETS, whatNext } from '../../fit/plan/index.js';
import { PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { expanded } from './words.js';

/** Fewer spare readings than this say nothing about the gauge's noise. */
const ENOUGH_SPARE = 6;

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function nextReadings(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  options: CalibrationOptions = {},
): string[] {
  const { fit } = result;
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
  const takes = already.some(isForJaws) ? ('windows' as const) : ('edges' as const);
  const { order, sure: count } = planReadings(lengths.flat(), { gauge: { ...USUAL_GAUGE, ...noise, takes }, already });
  const reached = Object.fromEntries(
    PARAMETER_NAMES.map((name) => [name, fit[name].assumed ? undefined : expanded(fit[name], fit.dof)]),
  ) as Record<ParameterName, number | undefined>;
  const sessionOf = new Map(lengths.flatMap((of, session) => of.map((feature) => [feature, session] as const)));
  const after = (next: readonly DimensionalFeature[]) =>
    foreseen(own, result, next.map((feature) => ({ session: sessionOf.get(feature) ?? 0, feature })), options); // biome-ignore format: one call
  const found = whatNext(order.slice(0, count).map(({ feature }) => feature), reached, after, USUAL_TARGETS); // biome-ignore format: one call
  return planSentences(reached, found, USUAL_TARGETS);
}

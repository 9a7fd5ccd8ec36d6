import type { DimensionalFeature } from '../../coupon/features.js';
import { foreseen } from '../../fit/calibration/foresee.js';
import { lengthsReadIn, spansGauge } from '../../fit/calibration/gauges.js';
import { expanded } from '../../fit/calibration/profile-fit.js';
import type { CalibrationOptions, CalibrationResult } from '../../fit/calibration/types.js';
import type { BetweenDays } from '../../fit/drift/between-days.js';
import { gaugeSoFar } from '../../fit/plan/coupon-order.js';
import { lengthsThere, planReadings } from '../../fit/plan/plan-readings.js';
import { likelyWider, planSentences, type Reached, whatNext } from '../../fit/plan/plan-words.js';
import { byParameter, type ParameterName, type ReadingSession } from '../../machine/types.js';

type Held = Partial<Record<ParameterName, string>>;

/** What a witness piece or a vernier lacks: spans as long as those of a ruler, as many widths as on a ladder. */
const LONG_MM = 30;
const MANY_WIDTHS = 20;

/** Standard uncertainties in half of a 95 % interval of many degrees of freedom. */
const COVERS_95 = 1.96;

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function nextReadings(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  options: CalibrationOptions = {},
  days: BetweenDays['components'] = [],
): string[] {
  const { fit } = result;
  const own = sessions.filter(({ refused }) => !refused);
  const lengths = own.map(lengthsThere);
  const already = own.flatMap(({ readings }, i) => {
    const byId = new Map(lengths[i].map((feature) => [feature.id, feature]));
    return readings.flatMap(({ feature, readingMm, dropped }) => {
      const found = readingMm === undefined || dropped ? undefined : byId.get(feature);
      return found ? [found] : [];
    });
  });
  const { order, sure: count } = planReadings(lengths.flat(), { gauge: gaugeSoFar(fit, already), already });
  // Without what differs from place to place, which no reading narrows: it is told of with its fault.
  const ofPlaces = (k: number): number => (COVERS_95 * (result.placeDoubt[k] ?? 0)) ** 2 / 3;
  const wider = likelyWider(result, own);
  const widened = (reach: Reached): Reached => byParameter((name) => reach[name] && reach[name] * wider[name]);
  const reached = widened(
    byParameter((name, k) => {
      const half = expanded(fit[name], fit.dof);
      return fit[name].assumed ? undefined : Math.sqrt(Math.max(0, half * half - ofPlaces(k)));
    }),
  );
  const sessionOf = new Map(lengths.flatMap((of, session) => of.map((feature) => [feature, session] as const)));
  const after = (next: readonly DimensionalFeature[]) =>
    widened(foreseen(own, result, next.map((feature) => ({ session: sessionOf.get(feature) ?? 0, feature })), options)); // biome-ignore format: one call
  const found = whatNext(order.slice(0, count).map(({ feature }) => feature), reached, after); // biome-ignore format: one call
  const held = {
    ...heldByPlaces(result, reached),
    ...heldByLimit(result.gauges, own, reached),
    ...heldByDays(days, reached),
  };
  const [spans, widths] = [true, false].map((is) => lengths.flat().filter(({ kind }) => (kind === 'span') === is));
  const left = {
    any: count > 0,
    spans: spans.some(({ nominalMm }) => nominalMm >= LONG_MM),
    widths: widths.length >= MANY_WIDTHS,
  };
  const sentences = planSentences(reached, found, held, left, wider);
  if (result.placeDoubt.every((size) => size === 0)) return sentences;
  return [...sentences, 'That is without what differs over the bed, which no further reading narrows.'];
}

const STAYS = ', and no further reading makes that smaller';

/** What bends the bed scatters the readings too. */
function heldByPlaces({ placeDoubt }: CalibrationResult, reached: Reached): Held {
  const names = (['scaleX', 'scaleY', 'shear'] as const).filter((name) => reached[name] !== undefined);
  return placeDoubt.some((size) => size > 0)
    ? Object.fromEntries(names.map((name) => [name, `the readings lie off by what differs over the bed${STAYS}`]))
    : {};
}

/** A stencil is cut on one day: what days differ by stays, however often it is read. */
function heldByDays(days: BetweenDays['components'], reached: Reached): Held {
  const held = days.filter(({ parameter, sd }) => COVERS_95 * sd > DECIDES * (reached[parameter] ?? Number.POSITIVE_INFINITY)); // biome-ignore format: one thought
  return Object.fromEntries(
    held.map(({ parameter, sure }) => [
      parameter,
      sure
        ? `it differs from day to day${STAYS}`
        : 'it may differ from day to day, which readings of more days would tell',
    ]),
  );
}

/** A limit of error that alone makes so much of an interval decides it. */
const DECIDES = 0.6;

const DIRECTIONS = { scaleX: 'X', scaleY: 'Y', shear: 'slanted' } as const;

/** Numbers that the limit of error of the gauge for long lengths holds where they are, with the words for it. */
export function heldByLimit(
  gauges: CalibrationResult['gauges'],
  sessions: readonly ReadingSession[],
  reached: Reached,
): Held {
  const far = gauges
    .map((gauge) => ({ ...gauge, longest: longestRead(gauge.name, sessions) }))
    .sort((a, b) => b.longest - a.longest);
  return Object.fromEntries(
    (['scaleX', 'scaleY', 'shear'] as const).flatMap((number) => {
      const own = far.find(({ name }) => name.endsWith(spansGauge('', DIRECTIONS[number])));
      const { name, limitMm, longest } = own ?? far[0] ?? {};
      if (limitMm === undefined || !longest) return [];
      // A slanted span of 45 degrees holds half of the shear.
      const alone = ((own && number === 'shear' ? 2 : 1) * COVERS_95 * limitMm) / Math.sqrt(3) / longest;
      if (!(alone > DECIDES * (reached[number] ?? Number.POSITIVE_INFINITY))) return [];
      const turned = own ? ' until the same film is scanned turned by 90 degrees as well' : '';
      return [[number, `the limit of error of ${name} (${limitMm} mm) decides${STAYS}${turned}`]];
    }),
  );
}

function longestRead(gauge: string, sessions: readonly ReadingSession[]): number {
  const own = sessions.flatMap(lengthsReadIn).filter((one) => one.gauge === gauge && !one.dropped);
  return Math.max(0, ...own.map(({ readingMm }) => readingMm));
}

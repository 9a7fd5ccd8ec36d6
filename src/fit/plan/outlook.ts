import { type DimensionalFeature, isForJaws } from '../../coupon/features.js';
import { byParameter, PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { foreseen } from '../calibration/foresee.js';
import { instrumentsIn, lengthsReadIn, spansGauge } from '../calibration/gauges.js';
import { expanded } from '../calibration/profile-fit.js';
import type { CalibrationOptions, CalibrationResult } from '../calibration/types.js';
import { type BetweenDays, isDoubted } from '../drift/between-days.js';
import { openDoubts } from '../drift/session-days.js';
import { studentQuantile } from '../statistics/distributions.js';
import { HAND_MM, lengthsThere, likelyNoiseMm, planReadings } from './plan-readings.js';
import { gaugeSoFar, likelyWider, missingIn, type Reached, type ReadWith, scatterOf, whatNext } from './plan-words.js';

type Held = Partial<Record<ParameterName, string>>;

/** Where a calibration stands, and what reading on would bring: one for `enter` and `fit`. */
export type Outlook = ReturnType<typeof outlookOf>;

export interface OutlookOptions extends CalibrationOptions {
  /** The coupons that are read on; all where nothing is said. */
  readonly on?: readonly ReadingSession[];
  /** What their lengths are read with, where that is known. */
  readonly taken?: ReadWith;
  readonly days?: BetweenDays['components'];
  /** Numbers that are not told, whatever the fit says of them. */
  readonly untold?: readonly ParameterName[];
}

/** What a witness piece or a vernier lacks: spans as long as those of a ruler, as many widths as on a ladder. */
const LONG_MM = 30;
const MANY_WIDTHS = 15;

/** Standard uncertainties in half of a 95 % interval of many degrees of freedom. */
const COVERS_95 = 1.96;

/** What the readings reach, which to read next on the coupons at hand, and what that would bring. */
export function outlookOf(
  result: CalibrationResult,
  sessions: readonly ReadingSession[],
  { on = sessions, taken, days = [], untold = [], ...options }: OutlookOptions = {},
) {
  const { fit } = result;
  const all = sessions.filter(({ refused }) => !refused);
  const own = all.filter((session) => on.includes(session));
  const lengths = own.map(lengthsThere);
  const there = new Set(lengths.flat());
  const read = own.flatMap(lengthsReadIn).filter(({ feature, dropped }) => !dropped && there.has(feature));
  const already = read.map(({ feature }) => feature);
  const { sdMm: residualSdMm, readings: dof } = scatterOf(result.scatter, read);
  const plan = planReadings(lengths.flat(), { gauge: gaugeSoFar({ dof, residualSdMm }, already, taken), already });
  const wider = likelyWider(result, all);
  const isTold = (name: ParameterName): boolean => !fit[name].assumed && !untold.includes(name);
  const fitted = byParameter((name, k) => (isTold(name) ? withoutPlaces(expanded(fit[name], fit.dof), result, k) : undefined)); // biome-ignore format: one thought
  const reached = byParameter((name) => fitted[name] && fitted[name] * wider[name]);
  const foresee = (by: CalibrationResult, next: readonly DimensionalFeature[]): Reached =>
    foreseen(all, by, next, options);
  const after = foresight(result, asLater(result, instrumentsIn(all)), fitted, foresee);
  const names = on === sessions ? PARAMETER_NAMES : plan.determined;
  const missing = missingIn(reached, names);
  const ofSort = (isKerf: boolean): boolean => missing.some((name) => name.startsWith('kerf') === isKerf);
  const readable = plan.order.slice(0, plan.readable).map(({ feature }) => feature);
  const telling = readable.filter((one) => isForJaws(one) || ofSort(one.kind !== 'span'));
  const found = whatNext(telling, reached, after, names);
  const [spans, widths] = [true, false].map((is) => lengths.flat().filter(({ kind }) => (kind === 'span') === is));
  return {
    /** Half-widths of the 95 % intervals as they are likely to stay; undefined: not told. */
    reached,
    /** By how much they are wider for that than as fitted. */
    wider,
    plan,
    /** Readings that help; undefined: none do. */
    found,
    /** Why reading on would not help, in words. */
    held: heldBy(result, all, days, reached),
    left: {
      any: readable.length > 0,
      spans: spans.some(({ nominalMm }) => nominalMm >= LONG_MM),
      widths: widths.length >= MANY_WIDTHS,
    },
  };
}

/** Without what differs from place to place, which no reading narrows: it is told of with its fault. */
const withoutPlaces = (half: number, { placeDoubt }: CalibrationResult, k: number): number =>
  Math.sqrt(Math.max(0, half ** 2 - (COVERS_95 * (placeDoubt[k] ?? 0)) ** 2 / 3));

/**
 * What more readings would bring, on the footing of what the fit says now: coarse gauges and faults of the machine widen
 * both alike; what days differ by stays.
 */
function foresight(
  result: CalibrationResult,
  later: CalibrationResult,
  fitted: Reached,
  foresee: (by: CalibrationResult, next: readonly DimensionalFeature[]) => Reached,
): (next: readonly DimensionalFeature[]) => Reached {
  const now = foresee(result, []);
  const t = (dof: number): number => studentQuantile(0.05, Math.max(1, dof));
  return (next) => {
    const then = foresee(later, next);
    return byParameter((name, k) => {
      const [is, was, will] = [fitted[name], now[name], then[name]];
      if (is === undefined || was === undefined || will === undefined) return will;
      const { interval95, dof } = result.parameters[k];
      const pooled = withoutPlaces((interval95[1] - interval95[0]) / 2, result, k);
      // That one number's scatter is hardly known yet is no matter of later readings.
      const footing = (pooled * t(result.fit.dof)) / t(dof) / was;
      return Math.sqrt((will * footing) ** 2 + Math.max(0, is ** 2 - pooled ** 2));
    });
  };
}

/** A reading tells as much of the scatter as it leaves to spare: less two numbers, two kerfs or the shear, and the zero. */
const TAKEN_UP = 4;

/** What hands' readings are likely to scatter by once there are more of them: few may agree by chance. */
function asLater(result: CalibrationResult, instruments: ReadonlySet<string>): CalibrationResult {
  const scatter = result.scatter.map(({ sdMm, readings, ...group }) => {
    if (instruments.has(group.gauge)) return { ...group, readings, sdMm };
    const likely = likelyNoiseMm({ dof: readings - TAKEN_UP, residualSdMm: sdMm }, HAND_MM);
    return { ...group, readings, sdMm: Math.max(sdMm, likely) };
  });
  return { ...result, scatter };
}

const STAYS = ', and further readings hardly narrow that';

/** A limit of error, or what days differ by, that alone makes so much of an interval decides it. */
const DECIDES = 0.6;

/** Why reading on would not help, in words, for each number that something else holds where it is. */
function heldBy(
  { gauges, placeDoubt }: CalibrationResult,
  sessions: readonly ReadingSession[],
  days: BetweenDays['components'],
  reached: Reached,
): Held {
  const doubts = openDoubts(sessions);
  const ofLimit = limitWords(gauges, sessions);
  return byParameter((name) => {
    const decides = (half: number): boolean => half > DECIDES * (reached[name] ?? Number.POSITIVE_INFINITY);
    // What settles a doubt makes the interval smaller, and nothing else does.
    if (isDoubted(name, doubts)) return `in doubt until the readings of ${doubts?.days.join(', ')} are settled`;
    // A stencil is cut on one day: what days differ by stays, however often it is read.
    const day = days.find(({ parameter, sd }) => parameter === name && decides(COVERS_95 * sd));
    if (day?.sure) return `it differs from day to day${STAYS}`;
    if (day) return 'it may differ from day to day, which readings of more days would tell';
    if (name === 'kerfXMm' || name === 'kerfYMm' || reached[name] === undefined) return undefined;
    // What bends the bed scatters the readings too.
    const bends = placeDoubt.some((size) => size > 0)
      ? `the readings lie off by what differs over the bed${STAYS}`
      : undefined;
    return ofLimit(name, decides) ?? bends;
  });
}

/** Limits of error that differ by less than this factor are alike. */
const AS_SURE = 2;

const DIRECTIONS = { scaleX: 'X', scaleY: 'Y', shear: 'slanted' } as const;

/** Whether the limit of error of the gauge for long lengths holds a number where it is, with the words for it. */
function limitWords(gauges: CalibrationResult['gauges'], sessions: readonly ReadingSession[]) {
  const far = gauges
    .map((gauge) => ({ ...gauge, longest: longestRead(gauge.name, sessions) }))
    .sort((a, b) => b.longest - a.longest);
  const least = Math.min(...far.flatMap(({ limitMm, longest }) => (limitMm && longest ? limitMm / longest : [])));
  return (number: keyof typeof DIRECTIONS, decides: (half: number) => boolean): string | undefined => {
    const own = far.find(({ name }) => name.endsWith(spansGauge('', DIRECTIONS[number])));
    const { name, limitMm, longest } = own ?? far[0] ?? {};
    if (limitMm === undefined || !longest) return undefined;
    // A slanted span of 45 degrees holds half of the shear.
    const alone = ((own && number === 'shear' ? 2 : 1) * COVERS_95 * limitMm) / Math.sqrt(3) / longest;
    if (!decides(alone)) return undefined;
    // A turn brings one axis to what the other was told by a caliper, and no further.
    const helps = number === 'shear' || limitMm / longest > AS_SURE * least;
    const turned =
      own && helps ? ' until the same film is scanned turned by 90 degrees, the same side down, as well' : '';
    return `the limit of error of ${name} (${limitMm} mm) decides${STAYS}${turned}`;
  };
}

function longestRead(gauge: string, sessions: readonly ReadingSession[]): number {
  const own = sessions.flatMap(lengthsReadIn).filter((one) => one.gauge === gauge && !one.dropped);
  return Math.max(0, ...own.map(({ readingMm }) => readingMm));
}

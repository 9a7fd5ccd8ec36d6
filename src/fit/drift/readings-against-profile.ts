import { unlessRefused } from '../../errors.js';
import { kept, once } from '../../kept.js';
import { fitVariance } from '../../machine/place-field.js';
import type { Profile, ProfileFit, ReadingSession } from '../../machine/types.js';
import { type EyeReadings, eyeReadings } from '../calibration/by-eye.js';
import { predictLength } from '../calibration/design.js';
import { fitSessions } from '../calibration/fit-sessions.js';
import { gatherObservations, type Observation } from '../calibration/observations.js';
import type { CalibrationResult } from '../calibration/types.js';
import { fisherUpper, studentQuantile } from '../statistics/distributions.js';
import { allowedTo, allowedToScan, byOtherGauges, otherGaugeWords } from './between-days.js';
import { ENOUGH_DAYS, MOST_WITH_ANCHOR, type SeekOptions, seekChange } from './drift-chart.js';
import { groupsByDay, refusedDays, samePieces, withoutDoubts } from './session-days.js';
import {
  type ChartedShift,
  parameterValues,
  type ReadingsAgainstProfile,
  type Shift,
  type Shifts,
  shiftsOf,
  shiftWords,
  verdictWords,
} from './shifts.js';

export interface AgainstProfileOptions {
  /** Readings of the new sessions that are wrong for a known reason: they say nothing about the machine. */
  readonly ignore?: (session: number, index: number) => boolean;
  readonly resolutionMm?: number;
  /** Chance of a false alarm over all numbers and tests together; default 0.0005, so that years of weeks have none. */
  readonly alpha?: number;
}

const ALPHA = 0.0005;
/** From this chance on a change is not sure, but too likely to be called none. */
const DOUBTFUL = 0.01;
/** A change that is as large as the limit is seen in half of all cases; this much more, in nine of ten. */
const MISSED_TWO_SIDED = 0.2;
/** What readings scatter by beyond chance widens the limits; widened by chance too, they had missed 1 step of 15 um in 8. */
const MORE_SCATTER_CHANCE = 0.05;
/** Scatter among the new readings is worth a word from this chance on. */
const SCATTER_CHANCE = 0.001;
const LEAST_SD_MM = 1e-6;
/** Old readings this far from the profile, in standard deviations, are wrong ones that were kept, if they are few. */
const FAR_OFF = 6;
const MOST_FAR_OFF = 0.2;

/**
 * Are new readings those of the machine that a profile describes? Works for a full coupon, for a witness piece, and for
 * a reading or two that could not be fitted alone.
 *
 * Each number's shift against the profile is followed over the days on which the same piece was
 * read; while these are few, what the other pieces say counts as a day before them. A day that was refused and not settled since
 * keeps the verdict: what lies beyond a change is another machine until somebody says otherwise.
 *
 * @param older - with the sessions it was fitted from
 * @throws {InputError} as gatherObservations
 * @remarks Limits are Student's t, and Bonferroni over numbers and tests. With few readings and no history the distance
 *   as a whole is an F test of its own.
 * @example readingsAgainstProfile(profile, sessions)
 */
export function readingsAgainstProfile(
  older: Profile,
  fresh: readonly ReadingSession[],
  options: AgainstProfileOptions = {},
): ReadingsAgainstProfile {
  const history = groupsByDay(older.sessions.filter(({ refused }) => !refused));
  const others = history.filter((day) => !samePieces(day, fresh)).flat();
  const noise = noiseOf(older.fit, [others, older.sessions, fresh], options.resolutionMm);
  const sdOf = (lengths: readonly Observation[]): number[] => lengths.map((length) => noise.sdMm(length));
  const before = history.filter((day) => samePieces(day, fresh));
  // Days of one piece have their gauge's zero in common: it counts as long as anything else is heard beside them.
  const alone = before.length >= MOST_WITH_ANCHOR;
  const shiftsIn = (lengths: readonly Observation[], sessions: readonly ReadingSession[]): Shifts =>
    shiftsOf(lengths, sdOf(lengths), older.fit, alone ? undefined : sessions);
  const soundShifts = (sessions: readonly ReadingSession[]): Shifts => {
    const { lengths } = gatherObservations(sessions, options.resolutionMm);
    return shiftsIn(soundOnes(lengths, sdOf(lengths), older), sessions);
  };
  const lengths = gatherObservations(fresh, options.resolutionMm).lengths.filter(
    ({ session, index }) => !options.ignore?.(session, index),
  );
  const now = shiftsIn(lengths, fresh);
  const unlike = byOtherGauges(older.sessions, lengths);
  const refusedBefore = refusedDays(older.sessions);
  const days = before.map(soundShifts);
  const prediction = others.length > 0 ? soundShifts(others) : undefined;
  const scatterP = now.within.dof > 0 ? fisherUpper(now.within.sum / now.within.dof, now.within.dof, noise.dof) : 1;
  // Readings that evidently scatter more than usual among themselves (Birge ratio) say less of a shift.
  const birge = scatterP < MORE_SCATTER_CHANCE ? now.within.sum / now.within.dof : 1;
  const alpha = (options.alpha ?? ALPHA) / Math.max(1, now.shifts.length);
  const tests = now.shifts.flatMap((shift): ChartedShift[][] => {
    // Scans of earlier days had a doubt like this one's.
    const ofScan = allowedToScan(lengths, fresh, shift.parameter);
    const own = ({ shifts }: Shifts): Shift[] =>
      shifts.flatMap((one) => (one.parameter === shift.parameter ? [{ ...one, ownVariance: one.ownVariance + ofScan }] : [])); // biome-ignore format: one thought
    const ownVariance = shift.ownVariance * birge + allowedTo(unlike, fresh, shift.parameter) + ofScan;
    const [anchor] = prediction ? own(prediction) : [];
    const options = { alpha, noiseDof: noise.dof };
    const found = followed({ ...shift, ownVariance }, days.flatMap(own), anchor, options);
    return found.length > 0 ? [found] : [];
  });
  const shifts = tests.map((own) => own.reduce((a, b) => (telling(b) > telling(a) ? b : a)));
  const leastSeen = tests.map((own) => {
    const alone = own.find(({ chart, days: count }) => chart === 'newest' && count === 1)!;
    const spare = alone.stdUncertainty * studentQuantile(MISSED_TWO_SIDED, alone.dof);
    return { parameter: alone.parameter, change: alone.limit + spare };
  });
  const f = now.about.count > 0 ? now.about.sum / now.about.count : 0;
  const pValue = now.about.count > 0 ? fisherUpper(f, now.about.count, noise.dof) : 1;
  const few = now.within.dof === 0 && days.length < ENOUGH_DAYS;
  const farOff = few && pValue < (options.alpha ?? ALPHA);
  const scatterRatio = now.within.dof >= 3 ? Math.sqrt(now.within.sum / now.within.dof) : undefined;
  const eyes = eyeShifts(history.flat(), fresh, older.fit);
  const changed =
    shifts.some(({ beyond }) => beyond) || farOff || eyes.some((one) => one.changed) || refusedBefore.length > 0;
  const doubtful = shifts.filter(({ chance }) => chance * shifts.length < DOUBTFUL);
  const result = {
    shifts,
    leastSeen,
    refusedBefore,
    distance: { f, readings: now.about.count, pValue },
    ...(scatterRatio === undefined ? {} : { scatterRatio }),
    changed,
    doubtful: changed ? [] : doubtful.map(({ parameter }) => parameter),
  };
  const sentences = verdictWords(result, farOff, scatterP < SCATTER_CHANCE);
  return {
    ...result,
    sentences: [...sentences, ...eyes.map(({ say }) => say), ...otherGaugeWords(unlike, result.changed)],
  };
}

/** Readings that show a change of twice the doubt's size on their own know it to two standard uncertainties. */
const SETTLED_WITHIN = 2;

/**
 * Sessions as they go into the profile together: the new ones with what is doubtful about them, the older ones without the
 * doubts that the new ones settle. Readings of the same pieces do, for these are judged together with the days before; others
 * where they would have shown so much.
 */
export function withDoubts(
  older: readonly ReadingSession[],
  fresh: readonly ReadingSession[],
  { shifts, leastSeen, doubtful }: Pick<ReadingsAgainstProfile, 'shifts' | 'leastSeen' | 'doubtful'>,
): ReadingSession[] {
  const again = groupsByDay(older)
    .filter((day) => samePieces(day, fresh))
    .flat();
  const before = older.map((session) =>
    withoutDoubts(session, (name, by) => {
      const seen = leastSeen.find(({ parameter }) => parameter === name);
      return seen !== undefined && (again.includes(session) || seen.change <= SETTLED_WITHIN * Math.abs(by));
    }),
  );
  const off = shifts.filter(({ parameter }) => doubtful.includes(parameter));
  if (off.length === 0) return [...before, ...fresh];
  const doubts = Object.fromEntries(
    off.map(({ parameter, shift: by, stdUncertainty }) => [parameter, { by, stdUncertainty }]),
  );
  return [...before, ...fresh.map((session) => ({ ...session, doubtful: doubts }))];
}

const telling = ({ shift, limit }: ChartedShift): number => Math.abs(shift) / limit;

/** Without what is wrong but was kept; when much lies far off, or the profile is not sure, it is the profile that is. */
function soundOnes(lengths: readonly Observation[], sdMm: readonly number[], { fit }: Profile): Observation[] {
  const parameters = parameterValues(fit);
  const gradient = new Float64Array(5);
  const sound = lengths.filter((length, i) => {
    const off = Math.abs(length.valueMm - predictLength(length, parameters, gradient));
    return off <= FAR_OFF * Math.sqrt(sdMm[i] ** 2 + fitVariance(fit, gradient));
  });
  return sound.length >= (1 - MOST_FAR_OFF) * lengths.length ? sound : [...lengths];
}

/** Limits are about so many standard uncertainties. */
const USUAL_LIMIT = 4;

/** A zero lies within √3 of its standard uncertainties for certain: limits need not be wider by more than that. */
function bounded(zeroVariance: number, besideIt: number): number {
  const most = Math.sqrt(besideIt) + Math.sqrt(3 * zeroVariance) / USUAL_LIMIT;
  return Math.min(zeroVariance, most ** 2 - besideIt);
}

function followed(
  now: Shift,
  before: readonly Shift[],
  anchor: Shift | undefined,
  options: SeekOptions,
): ChartedShift[] {
  const asDay = ({ shift, ownVariance }: Shift) => ({ value: shift, variance: ownVariance });
  const course = [...before, now].map(asDay);
  // Own days have the zero in common, what is known from elsewhere has another.
  const beside = anchor ? anchor.ownVariance + anchor.zeroVariance : now.profileVariance;
  const known =
    anchor || before.length === 0
      ? { value: anchor?.shift ?? 0, variance: beside + bounded(now.zeroVariance, now.ownVariance + beside) }
      : undefined;
  // What the profile only assumed is no measure of anything.
  if (known && !Number.isFinite(known.variance)) return [];
  return seekChange(course, { ...options, anchor: known }).map(({ kind, size, days, ...rest }) => {
    const chart = kind === 'trend' ? ('trend' as const) : ('newest' as const);
    const bare = { parameter: now.parameter, shift: size, ...rest, chart, days, against: course.length - days };
    return { ...bare, say: shiftWords(bare) };
  });
}

/** What one reading scatters by: as in the other pieces' readings with that gauge, else in the next ones, else as stated. */
function noiseOf(
  stated: ProfileFit,
  sources: readonly (readonly ReadingSession[])[],
  resolutionMm: number | undefined,
): { readonly dof: number; sdMm(length: Observation): number } {
  const known = sources.map((sessions) =>
    once(() => {
      const fitted = unlessRefused(() => fitSessions(sessions, { resolutionMm, robust: true }));
      return fitted && fitted.fit.dof > 0 ? fitted : undefined;
    }),
  );
  const first = (): CalibrationResult | undefined => known.find((source) => source())?.();
  const sdOf = ({ resolutionMm: step, gauge: name }: Observation): number => {
    const rounding = (step * step) / 12;
    for (const source of known) {
      const result = source();
      const alike = result?.scatter.filter((gauge) => gauge.resolutionMm === step) ?? [];
      const own = alike.find(({ gauge }) => gauge === name) ?? alike[0];
      // Wrong readings that were kept are no noise; the robust scatter leaves them out.
      if (own && result && result.flagged.length > 0) return result.fit.residualSdMm;
      if (own) return Math.sqrt(own.sdMm ** 2 + rounding);
    }
    const spare = stated.residualSdMm > 0 ? stated.residualSdMm : (first()?.fit.residualSdMm ?? 0);
    return Math.max(spare, Math.sqrt(rounding));
  };
  const sds = new Map<string, number>();
  return {
    dof: Math.max(1, first()?.fit.dof ?? stated.dof),
    sdMm: (length) => kept(sds, `${length.gauge} ${length.resolutionMm}`, () => Math.max(LEAST_SD_MM, sdOf(length))),
  };
}

/** The kerf of one day scatters by about this much: bounds that lie no further apart are one bound. */
const TOUCH_MM = 0.005;

/** Webs that burnt away or stand hold the kerf between two widths: where those of new films and old ones don't overlap. */
function eyeShifts(older: readonly ReadingSession[], fresh: readonly ReadingSession[], fit: ProfileFit) {
  const bracketsOf = (sessions: readonly ReadingSession[]): EyeReadings['brackets'] =>
    eyeReadings(gatherObservations(sessions), sessions, fit.scaleX.value).brackets;
  const now = bracketsOf(fresh);
  const before = now.length > 0 ? bracketsOf(older) : [];
  return now.flatMap(({ axis, lowMm, highMm }) => {
    const { interval95, assumed } = axis === 'x' ? fit.kerfXMm : fit.kerfYMm;
    const known = before.find((bracket) => bracket.axis === axis);
    const [low, high] = known ? [known.lowMm, known.highMm] : (interval95 ?? []);
    if (low === undefined || high === undefined || assumed || (lowMm < high - TOUCH_MM && highMm > low + TOUCH_MM))
      return [];
    const words = `By eye the kerf across ${axis.toUpperCase()} is between ${lowMm.toFixed(3)} and ${highMm.toFixed(3)} mm now, and was between ${low.toFixed(3)} and ${high.toFixed(3)} mm before`;
    // More than a step of the ladder lies between: no machine that stayed the same.
    const changed = lowMm > high + TOUCH_MM || highMm < low - TOUCH_MM;
    return [{ changed, say: changed ? `${words}.` : `${words}: it lies near the bound, or has changed.` }];
  });
}

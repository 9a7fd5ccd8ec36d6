import { InputError } from '../../errors.js';
import type { ParameterName, Profile, ReadingSession } from '../../machine/types.js';
import { fitSessions } from '../calibration/index.js';
import { gatherObservations } from '../calibration/observations.js';
import { fisherUpper, studentQuantile, studentTwoSided } from '../statistics/student-t.js';
import { groupsByDay, samePieces } from './session-days.js';
import { shiftWords, verdictWords } from './shift-words.js';
import { type Shift, type Shifts, shiftsOf } from './shifts.js';

/** One number of the machine as the new readings show it, on the chart of the days before. */
export interface ChartedShift {
  readonly parameter: ParameterName;
  /** New readings, less what the profile (or the mean of the days before) says: a ratio or mm. */
  readonly shift: number;
  /** Inside ± this nothing has changed. */
  readonly limit: number;
  readonly stdUncertainty: number;
  readonly dof: number;
  /** Two-sided, for this number alone. */
  readonly pValue: number;
  /** A single point, or the moving average of the last days and this one. */
  readonly chart: 'single' | 'average';
  /** Days before on which the same piece was read, that centre and limits rest on; 0: the profile's prediction. */
  readonly days: number;
  readonly beyond: boolean;
  readonly say: string;
}

export interface ReadingsAgainstProfile {
  readonly shifts: readonly ChartedShift[];
  /** Mean square of the new readings' distance from the profile, over what it should be, with the F test. */
  readonly distance: { readonly f: number; readonly readings: number; readonly pValue: number };
  /** Scatter of the new readings among themselves over the usual one; undefined when there are too few of them. */
  readonly scatterRatio?: number;
  readonly changed: boolean;
  /** Plain sentences, the verdict first. */
  readonly sentences: readonly string[];
}

export interface AgainstProfileOptions {
  /** Readings of the new sessions that are wrong for a known reason: they say nothing about the machine. */
  readonly ignore?: (session: number, index: number) => boolean;
  readonly resolutionMm?: number;
  /** Chance of a false alarm per chart over all numbers together; default 0.0005, so that a year of weeks has few. */
  readonly alpha?: number;
}

const ALPHA = 0.0005;
/** From so many days of the same piece on its own history is the measure, and no longer the profile's prediction. */
const ENOUGH_DAYS = 4;
/** Centre and limits are those of the first so many days, when all was well (common practice: 20 to 25). */
const BASELINE_DAYS = 20;
/** Weight of the newest day in the moving average (NIST/SEMATECH e-Handbook 6.3.2.4: 0.2 to 0.3). */
const LAMBDA = 0.2;
/**
 * The scatter that the readings' noise explains counts as much as so many degrees of freedom of history: fewer once the
 * days evidently differ by more than that.
 */
const NOISE_COUNTS_AS = { alone: 30, exceeded: 8 };
const EXCEEDED_CHANCE = 0.05;
/** Scatter among the new readings is worth a word from this chance on. */
const SCATTER_CHANCE = 0.001;
const LEAST_VARIANCE = 1e-12;

/**
 * Are new readings those of the machine that a profile describes? Works for a full coupon, for a witness piece, and for
 * a reading or two that could not be fitted alone.
 *
 * Each number's shift against the profile (see {@link shiftsOf}) is charted: while the same piece has been read on fewer
 * than four days, against the profile's prediction (t test: uncertainty of the readings and of the profile); from then
 * on against the days before, as a single point and as a moving average. Limits widen with what days really differ by:
 * half the mean square of successive differences, which a slow drift does not inflate, pooled with the readings' noise.
 *
 * @param older - with the sessions it was fitted from
 * @throws {InputError} as gatherObservations
 * @remarks Source of the charts: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 and 6.3.2.4; successive
 *   differences: J. von Neumann et al., Ann. Math. Statist. 12 (1941) 153–162. Limits are Student's t instead of 3, for
 *   histories are short, and Bonferroni over the numbers.
 */
export function readingsAgainstProfile(
  older: Profile,
  fresh: readonly ReadingSession[],
  options: AgainstProfileOptions = {},
): ReadingsAgainstProfile {
  const noise = noiseOf(older, fresh, options.resolutionMm);
  const shiftsIn = (sessions: readonly ReadingSession[], ignore?: AgainstProfileOptions['ignore']): Shifts => {
    const lengths = gatherObservations(sessions, options.resolutionMm).lengths.filter(
      ({ session, index }) => !ignore?.(session, index),
    );
    return shiftsOf(
      lengths,
      lengths.map(({ resolutionMm }) => noise.sdMm(resolutionMm)),
      older.fit,
    );
  };
  const now = shiftsIn(fresh, options.ignore);
  const days = groupsByDay(older.sessions)
    .filter((day) => samePieces(day, fresh))
    .map((day) => shiftsIn(day));
  // Readings that scatter more than usual among themselves (Birge ratio) say less of a shift.
  const birge = now.within.dof >= 3 ? Math.max(1, now.within.sum / now.within.dof) : 1;
  const scatterP = now.within.dof > 0 ? fisherUpper(now.within.sum / now.within.dof, now.within.dof, noise.dof) : 1;
  const alpha = (options.alpha ?? ALPHA) / Math.max(1, now.shifts.length);
  const charted = now.shifts.flatMap((shift): ChartedShift[] => {
    const widened = { ...shift, ownVariance: shift.ownVariance * birge };
    const before = days.flatMap(({ shifts }) => shifts.filter(({ parameter }) => parameter === shift.parameter));
    if (before.length < ENOUGH_DAYS) return [againstPrediction(widened, noise.dof, alpha)];
    return againstDays(widened, before, alpha);
  });
  const f = now.about.count > 0 ? now.about.sum / now.about.count : 0;
  const pValue = now.about.count > 0 ? fisherUpper(f, now.about.count, noise.dof) : 1;
  // Too few to fit, and no history: then the distance as a whole is a test of its own.
  const few = now.within.dof === 0 && days.length < ENOUGH_DAYS;
  const farOff = few && pValue < (options.alpha ?? ALPHA);
  const changed = charted.some(({ beyond }) => beyond) || farOff;
  const scatterRatio = now.within.dof >= 3 ? Math.sqrt(now.within.sum / now.within.dof) : undefined;
  const result = {
    shifts: charted,
    distance: { f, readings: now.about.count, pValue },
    ...(scatterRatio === undefined ? {} : { scatterRatio }),
    changed,
  };
  return { ...result, sentences: verdictWords(result, farOff, scatterP < SCATTER_CHANCE) };
}

function againstPrediction(
  { parameter, shift, ownVariance, profileVariance }: Shift,
  dof: number,
  alpha: number,
): ChartedShift {
  return chartedShift(parameter, shift, Math.sqrt(ownVariance + profileVariance), dof, alpha, 'single', 0);
}

function againstDays(now: Shift, before: readonly Shift[], alpha: number): ChartedShift[] {
  const base = before.slice(0, BASELINE_DAYS);
  const count = base.length;
  const centre = mean(base.map(({ shift }) => shift));
  const noise = mean(base.map(({ ownVariance }) => ownVariance));
  const steps = base.slice(1).map(({ shift }, i) => (shift - base[i].shift) ** 2);
  const seen = mean(steps) / 2;
  // Half the mean square of n - 1 successive differences is worth about 2 (n - 1)/3 degrees of freedom.
  const seenDof = (2 * (count - 1)) / 3;
  const exceeded = fisherUpper(seen / noise, seenDof, NOISE_COUNTS_AS.alone) < EXCEEDED_CHANCE;
  const noiseDof = exceeded ? NOISE_COUNTS_AS.exceeded : NOISE_COUNTS_AS.alone;
  const dof = noiseDof + seenDof;
  const dayVariance = Math.max(noise, (noiseDof * noise + seenDof * seen) / dof);
  const nowVariance = dayVariance + Math.max(0, now.ownVariance - noise);
  const single = chartedShift(
    now.parameter,
    now.shift - centre,
    Math.sqrt(nowVariance + dayVariance / count),
    dof,
    alpha,
    'single',
    count,
  );
  const all = [...before, now];
  let average = centre;
  for (const { shift } of all) average += LAMBDA * (shift - average);
  const shares = all.map((_, i) => LAMBDA * (1 - LAMBDA) ** (all.length - 1 - i));
  const taken = shares.reduce((sum, share) => sum + share, 0) / count;
  const variance = shares.reduce((sum, share, i) => {
    const own = i === all.length - 1 ? nowVariance : dayVariance;
    return sum + own * (share - (i < count ? taken : 0)) ** 2;
  }, 0);
  return [single, chartedShift(now.parameter, average - centre, Math.sqrt(variance), dof, alpha, 'average', count)];
}

function chartedShift(
  parameter: ParameterName,
  shift: number,
  stdUncertainty: number,
  dof: number,
  alpha: number,
  chart: ChartedShift['chart'],
  days: number,
): ChartedShift {
  const limit = stdUncertainty * studentQuantile(alpha, dof);
  const pValue = stdUncertainty > 0 ? studentTwoSided(shift / stdUncertainty, dof) : shift === 0 ? 1 : 0;
  const beyond = Math.abs(shift) > limit;
  const bare = { parameter, shift, limit, stdUncertainty, dof, pValue, chart, days, beyond };
  return { ...bare, say: shiftWords(bare) };
}

/** What one reading scatters by: as in the profile's readings with that gauge, else in the new ones, else as stated. */
function noiseOf(
  older: Profile,
  fresh: readonly ReadingSession[],
  resolutionMm: number | undefined,
): { readonly dof: number; sdMm(resolutionMm: number): number } {
  const fits = [older.sessions, fresh].map((sessions) => {
    try {
      return sessions.length > 0 ? fitSessions(sessions, { resolutionMm, robust: true }) : undefined;
    } catch (error) {
      if (error instanceof InputError) return undefined;
      throw error;
    }
  });
  const known = fits.filter((fit) => fit !== undefined && fit.fit.dof > 0);
  const stated = older.fit.residualSdMm;
  return {
    dof: Math.max(1, fits[0]?.fit.dof ?? older.fit.dof, fits[0] ? 0 : (fits[1]?.fit.dof ?? 0)),
    sdMm: (step) => {
      const rounding = (step * step) / 12;
      for (const fit of known) {
        const own = fit?.scatter.find((gauge) => gauge.resolutionMm === step);
        // Wrong readings that were kept are no noise; the robust scatter leaves them out.
        if (own && fit && fit.flagged.length > 0) return Math.sqrt(Math.max(LEAST_VARIANCE, fit.fit.residualSdMm ** 2));
        if (own) return Math.sqrt(Math.max(LEAST_VARIANCE, own.sdMm ** 2 + rounding));
      }
      const spare = stated > 0 ? stated ** 2 : (known[0]?.fit.residualSdMm ?? 0) ** 2;
      return Math.sqrt(Math.max(LEAST_VARIANCE, spare, rounding));
    },
  };
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

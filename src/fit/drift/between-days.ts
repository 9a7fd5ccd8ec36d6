import {
  byParameter,
  type Doubt,
  type Measured,
  NUMBER_NAMES,
  PARAMETER_NAMES,
  type ParameterName,
  type ProfileFit,
  type ReadingSession,
  sizeWords,
} from '../../machine/types.js';
import { capital } from '../../text.js';
import { gaugesOf, isToldAnew, uniformSd } from '../calibration/gauges.js';
import { gatherObservations, type Observation } from '../calibration/observations.js';
import { stretched } from '../calibration/profile-fit.js';
import { fisherUpper } from '../statistics/distributions.js';
import { groupsByDay, type OpenDoubts, openDoubts } from './session-days.js';
import { shiftsOf } from './shifts.js';

export type BetweenDays = ReturnType<typeof betweenDays>;

/** Two days differ by one difference, which is no measure of what days differ by. */
const LEAST_DAYS = 3;
const LEAST_SD_MM = 1e-6;
/**
 * What days differ by is counted however little of it is sure: left out until it is, intervals for a day to come had held
 * in 62 to 70 % of cases and not in 80. But it is said to be there only where chance makes so much of noise less often,
 * over all numbers, and while it is not sure the days must weigh alike: beside one full coupon, witnesses of a few mm
 * tell a scale so poorly that the noise of theirs had made an interval ten times as wide.
 */
const SURE = 0.01 / PARAMETER_NAMES.length;
/** Worth a sentence when the uncertainty grows by more than this share. */
const TELLING = 1.2;

/**
 * Readings of several days are not readings of one machine: a warm tube, another focus, air that is damp. What days
 * differ by beyond their readings' noise is found for each number and counted in its uncertainty, for a stencil is cut
 * on a day of its own and no number of days averages that away.
 *
 * @param fit - of all accepted sessions together
 * @remarks Random-effects estimate of R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377–385. The
 *   values stay those of the fit; with weights a of the days the variance grows by τ² (1 + Σ a²).
 */
export function betweenDays(fit: ProfileFit, sessions: readonly ReadingSession[], resolutionMm?: number) {
  const days = groupsByDay(sessions.filter(({ refused }) => !refused));
  const sdMm = Math.max(LEAST_SD_MM, fit.residualSdMm);
  const byDay = days.map((day) => {
    const { lengths } = gatherObservations(day, resolutionMm);
    const shifts = shiftsOf(lengths, lengths.map((length) => Math.max(sdMm, length.resolutionMm / Math.sqrt(12))), fit, day); // biome-ignore format: one call
    return { ...shifts, ofScan: byParameter((name) => allowedToScan(lengths, day, name)) };
  });
  // The fit's scatter holds the differences between days as well: what readings of one day scatter by is less.
  const dof = byDay.reduce((sum, { within }) => sum + within.dof, 0);
  const inDay = dof > 0 ? Math.min(1, byDay.reduce((sum, { within }) => sum + within.sum, 0) / dof) : 1;
  const components = PARAMETER_NAMES.flatMap((parameter) => {
    const own = byDay.flatMap(({ shifts, ofScan }) =>
      shifts.flatMap((shift) => (shift.parameter === parameter ? [{ ...shift, ofScan: ofScan[parameter] }] : [])),
    );
    if (own.length < LEAST_DAYS || fit[parameter].assumed) return [];
    const values = own.map(({ shift, ownVariance, zeroVariance, ofScan }) => ({ value: shift, variance: inDay * ownVariance + zeroVariance + ofScan })); // biome-ignore format: one thought
    const { variance, excess } = pauleMandel(values);
    if (!(variance > 0)) return [];
    const spare = values.length - 1;
    // Beyond what the readings' noise alone would look like.
    const sure = fisherUpper(1 + excess / spare, spare, Math.max(1, dof || fit.dof)) < SURE;
    const total = values.reduce((sum, day) => sum + 1 / day.variance, 0);
    const squares = values.reduce((sum, day) => sum + (1 / day.variance / total) ** 2, 0);
    // So many days of equal weight would tell as much (L. Kish, Survey Sampling, 1965, section 11.7).
    const daysOfEqualWeight = Math.round(1 / squares);
    if (!sure && daysOfEqualWeight < LEAST_DAYS) return [];
    return [{ parameter, sd: Math.sqrt(variance), days: own.length, sure, added: variance * (1 + squares) }];
  });
  const doubts = openDoubts(sessions);
  // The interval of 95 %, two standard uncertainties, reaches as far as a doubtful day's own.
  const ofDoubt = ({ by, stdUncertainty }: Doubt): number => (Math.abs(by) / 2 + stdUncertainty) ** 2;
  const own = byParameter((name) => {
    const doubt = doubts?.of[name];
    const ofDays = components.find(({ parameter }) => parameter === name)?.added ?? 0;
    return doubt ? Math.max(ofDays, ofDoubt(doubt)) : ofDays;
  });
  const added = (k: number): number => {
    const number = PARAMETER_NAMES[k];
    const alike = isDoubted(number, doubts) ? PARAMETER_NAMES.filter((name) => sortOf(name) === sortOf(number)) : [];
    return Math.max(own[number], ...alike.map((name) => own[name]));
  };
  const covariance = fit.covariance.map((row, k) => row.map((value, j) => (j === k ? value + added(k) : value)));
  const determined = components.filter(({ parameter }, i) => {
    if (isDoubted(parameter, doubts)) return false;
    const before = fit[parameter].stdUncertainty;
    return Math.sqrt(before ** 2 + components[i].added) > TELLING * before;
  });
  return {
    /** The same numbers, with the uncertainty that they have on a day to come. */
    fit: { ...fit, ...byParameter((name, k) => widen(fit[name], added(k))), covariance },
    /** Standard deviation of each number from day to day beyond what the readings' noise explains; only those above 0. */
    components: components.map(({ added: _, ...component }) => component),
    sentences: [
      ...doubtSentences(fit, doubts),
      ...determined.map(
        ({ parameter, sd, days: count, sure }) =>
          `${capital(NUMBER_NAMES[parameter])} ${sure ? 'differs' : 'may differ'} from day to day by ${sizeWords(parameter, sd)} (standard deviation over ${count} days${sure ? ', beyond the readings’ noise); its uncertainty holds that.' : '): the readings’ noise alone may look so by chance, but its uncertainty holds that.'}`,
      ),
    ],
  };
}

/** Numbers that one cause moves together: focus and power both kerfs, heat and damp both scales. */
const sortOf = (name: ParameterName): string => (name.startsWith('kerf') ? 'kerf' : name.replace(/[XY]$/, ''));

/** Whether a doubtful day may have moved this number: itself, or one of its sort. */
export const isDoubted = (name: ParameterName, doubts: OpenDoubts | undefined): boolean =>
  doubts?.names.some((other) => sortOf(other) === sortOf(name)) === true;

function doubtSentences(fit: ProfileFit, doubts: OpenDoubts | undefined): string[] {
  const wider = PARAMETER_NAMES.filter((name) => !fit[name].assumed && isDoubted(name, doubts));
  if (!doubts || wider.length === 0) return [];
  const names = wider.map((name) => NUMBER_NAMES[name]).join(', ');
  return [
    `Until the readings of ${doubts.days.join(', ')} are settled, the uncertainty of ${names} holds that ${wider.length > 1 ? 'they' : 'it'} may have changed by as much.`,
  ];
}

function widen(measured: Measured, added: number): Measured {
  if (!(added > 0)) return measured;
  const { value, stdUncertainty: before, interval95: interval } = measured;
  const stdUncertainty = Math.sqrt(before ** 2 + added);
  const interval95 = interval && before > 0 ? stretched(interval, value, stdUncertainty / before) : interval;
  return { ...measured, stdUncertainty, interval95 };
}

/**
 * The variance between days with which the days' distances from their mean are as large as they should be; 0 if none.
 * And by how much their weighted sum of squares is larger than it should be without.
 */
function pauleMandel(days: readonly { readonly value: number; readonly variance: number }[]) {
  const excess = (between: number): number => {
    const weights = days.map(({ variance }) => 1 / (variance + between));
    const total = weights.reduce((sum, weight) => sum + weight, 0);
    const centre = days.reduce((sum, { value }, i) => sum + weights[i] * value, 0) / total;
    return days.reduce((sum, { value }, i) => sum + weights[i] * (value - centre) ** 2, 0) - (days.length - 1);
  };
  if (!(excess(0) > 0)) return { variance: 0, excess: 0 };
  let low = 0;
  let high = Math.max(...days.map(({ variance }) => variance));
  while (excess(high) > 0) high *= 4;
  for (let step = 0; step < 60; step += 1) {
    const middle = (low + high) / 2;
    if (excess(middle) > 0) low = middle;
    else high = middle;
  }
  return { variance: (low + high) / 2, excess: excess(0) };
}

/** What was read with gauges, by the names that people gave them, with which none of the older readings was taken. */
export function byOtherGauges(older: readonly ReadingSession[], lengths: readonly Observation[]): Observation[] {
  const known = new Set(older.flatMap(({ readings }) => readings.flatMap(({ gauge }) => gauge ?? [])));
  if (known.size === 0) return [];
  return lengths.filter(({ reading }) => reading.gauge !== undefined && !known.has(reading.gauge));
}

/** What another gauge may read otherwise within its limit of error, as a variance (GUM, JCGM 100:2008, 4.3.7). */
export function allowedTo(
  read: readonly Observation[],
  sessions: readonly ReadingSession[],
  parameter: ParameterName,
): number {
  const off = gaugesOf(read, sessions, undefined).map(({ name, limitMm = 0 }) => {
    const longestMm = Math.max(...read.filter(({ gauge }) => gauge === name).map(({ valueMm }) => valueMm));
    return parameter.startsWith('kerf') ? limitMm : limitMm / longestMm;
  });
  return uniformSd(Math.max(0, ...off)) ** 2;
}

/** The same of a scan, whose scale is told anew each time: as unlike the one before as another gauge, but for its edges. */
export function allowedToScan(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
  parameter: ParameterName,
): number {
  const spans = lengths.filter(({ gauge }) => isToldAnew(gauge));
  return parameter.startsWith('kerf') ? 0 : allowedTo(spans, sessions, parameter);
}

export function otherGaugeWords(read: readonly Observation[], changed: boolean): string[] {
  if (!changed || read.length === 0) return [];
  const names = [...new Set(read.map(({ gauge }) => gauge))].join(' and ');
  return [
    `They were read with another gauge (${names}) than those before: what one gauge reads more than the other looks like a change of the machine. Read some of the earlier film again with it.`,
  ];
}

import { InputError, unlessRefused } from '../../errors.js';
import { grouped, present } from '../../kept.js';
import {
  NUMBER_NAMES,
  type ParameterName,
  type Profile,
  type ProfileFit,
  type ReadingSession,
} from '../../machine/types.js';
import { capital, count } from '../../text.js';
import { fitSessions } from '../calibration/fit-sessions.js';
import { gaugeName } from '../calibration/gauges.js';
import type { DriftChart, HistoryPoint } from './drift-chart.js';
import { openDoubts, settleDoubt } from './session-days.js';

/** What the machine was on one day, from the readings of that day alone. */
export interface HistoryEntry {
  readonly label: string;
  readonly fit: ProfileFit;
  /** These readings showed a machine that has changed, and are not part of the profile's fit. */
  readonly refused?: boolean;
  /** They may be of a machine that has changed: what seemed off then, and is not settled since. */
  readonly doubtful?: readonly ParameterName[];
}

export type ProfileHistory = ReturnType<typeof profileHistory>;

/**
 * Takes profiles apart into days and fits each day's readings alone, oldest first.
 *
 * @param profiles - in order of time; a session that several profiles hold counts once, as of the first. Sessions of one
 *   profile and one date are a day; those without a date are one too, after all that the profiles before it hold
 */
export function profileHistory(profiles: readonly Profile[]) {
  // What a session is to the latest profile that holds it counts: a refused day may have been settled since.
  const known = new Map<string, { readonly from: number; readonly session: ReadingSession }>();
  for (const [index, profile] of profiles.entries()) {
    for (const session of profile.sessions) {
      const key = sessionKey(session);
      known.set(key, { from: known.get(key)?.from ?? index, session });
    }
  }
  const read = [...known.values()].filter(({ session }) => session.readings.some(({ dropped }) => !dropped));
  const zeroFree = withoutZeros(read.map(({ session }) => session));
  const days = [...grouped(read, ({ from, session }) => JSON.stringify([session.date, from])).values()];
  const newestBefore = (profile: number): string =>
    read.reduce((latest, { from, session: { date = '' } }) => (from < profile && date > latest ? date : latest), '');
  const dateOf = ([{ from, session }]: typeof read): string => session.date ?? newestBefore(from);
  const entries: HistoryEntry[] = [];
  // Days whose readings alone could not be fitted, with the reason, and profiles that hold none.
  const skipped = profiles.flatMap(({ name, sessions }) =>
    sessions.length > 0 ? [] : [{ label: name, reason: 'it holds no readings.' }],
  );
  const labels = new Set<string>();
  for (const day of days.sort((a, b) => (dateOf(a) < dateOf(b) ? -1 : dateOf(a) > dateOf(b) ? 1 : 0))) {
    const own = day.map(({ session }) => session);
    const [{ from, session }] = day;
    const bare = session.date ?? profiles[from].name;
    // Two profiles of one day, or of one name, are two to be held against each other.
    const label = labels.has(bare) ? `${bare} (profile ${from + 1})` : bare;
    labels.add(label);
    try {
      const { fit } = fitSessions(
        own.map(({ refused: _, ...session }) => zeroFree(session)),
        { sameGauges: true },
      );
      const doubts = openDoubts(own);
      entries.push({
        label,
        fit,
        ...(own.some(({ refused }) => refused) ? { refused: true } : {}),
        ...(doubts ? { doubtful: doubts.names } : {}),
      });
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      skipped.push({ label, reason: error.problems[0]?.message ?? error.message });
    }
  }
  return { entries, skipped };
}

/**
 * Readings less the zero of their gauge, as all days together tell it: 10 um on the 11 mm of a witness look like a scale that is
 * 0.0009 off, beside the ruler of the first day.
 */
function withoutZeros(all: readonly ReadingSession[]): (session: ReadingSession) => ReadingSession {
  const sound = all.filter(({ refused }) => !refused);
  const zeros = new Map(unlessRefused(() => fitSessions(sound).gauges)?.map(({ name, zeroMm }) => [name, zeroMm]));
  return (session) => {
    const features = new Map(session.features.map((feature) => [feature.id, feature]));
    const readings = session.readings.map((reading) => {
      const feature = features.get(reading.feature);
      const zeroMm = feature && zeros.get(gaugeName(reading.gauge, session.coupon, feature));
      const { readingMm } = reading;
      return zeroMm === undefined || readingMm === undefined || readingMm <= zeroMm ? reading : { ...reading, readingMm: readingMm - zeroMm }; // biome-ignore format: one thought
    });
    return { ...session, readings };
  };
}

/** The course of one parameter over the days on which it could be told. */
export function courseOf(history: ProfileHistory, parameter: ParameterName): HistoryPoint[] {
  return history.entries
    .filter(({ fit }) => !fit[parameter].assumed)
    .map(({ label, fit, refused, doubtful }) => ({
      label,
      ...(refused ? { refused } : {}),
      ...(doubtful ? { doubtful: true } : {}),
      value: fit[parameter].value,
      stdUncertainty: fit[parameter].stdUncertainty,
      dof: fit.dof,
    }));
}

/** Equal for sessions that hold the same readings of one day. */
function sessionKey({ coupon, date = '', readings }: ReadingSession): string {
  return JSON.stringify([coupon, date, readings.map((r) => [r.feature, r.readingMm ?? null, r.outcome ?? null])]);
}

/** One number of the machine from date to date. */
interface Course {
  readonly parameter: ParameterName;
  readonly points: readonly HistoryPoint[];
  readonly chart: DriftChart;
}

/** One verdict over all that was looked at; the rest of the report says where it comes from. */
export function controlVerdict(
  history: ProfileHistory,
  courses: readonly Course[],
): { readonly inControl?: boolean; readonly sentence: string } {
  const refused = history.entries.filter((entry) => entry.refused).map(({ label }) => label);
  const changed = courses.filter(({ chart }) => chart.change?.beyond || chart.farOff.length > 0);
  const names = changed.map(({ parameter }) => NUMBER_NAMES[parameter]);
  const doubtful = history.entries.flatMap(({ label, doubtful: numbers }) =>
    numbers ? [`${numbers.map((number) => NUMBER_NAMES[number]).join(', ')} of ${label}`] : [],
  );
  const found = present(
    refused.length > 0 &&
      `refused when they were added, and not settled since: ${refused.join(', ')} (the limits rest on the days before)`,
    names.length > 0 && `changed: ${names.join(', ')}`,
  );
  const doubts = present(doubtful.length > 0 && `doubtful, and not settled since: ${doubtful.join('; ')}`);
  if (found.length > 0)
    return { inControl: false, sentence: `Not in control. ${capital([...found, ...doubts].join('; '))}.` };
  if (doubts.length > 0) {
    const again = settleDoubt(history.entries.filter((entry) => entry.doubtful).map(({ label }) => label));
    return {
      inControl: false,
      sentence: `${capital(doubts[0])}. The machine may have changed: before you cut stencils, ${again}.`,
    };
  }
  if (courses.length === 0) {
    return { sentence: 'No verdict: no date holds readings that could be fitted alone.' };
  }
  const most = Math.max(...courses.map(({ points }) => points.length));
  if (most < 2) return { sentence: 'No verdict: one date shows no change.' };
  // A witness piece tells no shear: years of them would call a machine in control whose axes have come loose.
  const newest = history.entries.at(-1)?.label;
  const silent = courses.flatMap(({ parameter, points }) => {
    const last = points[points.length - 1].label;
    return last === newest ? [] : [`${NUMBER_NAMES[parameter]} (last told ${last})`];
  });
  const untold = silent.length > 0 ? ` Later dates say nothing of ${silent.join(', ')}.` : '';
  return { inControl: true, sentence: `In control: no change was seen over ${count(most, 'date')}.${untold}` };
}

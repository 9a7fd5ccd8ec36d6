import { InputError, unlessRefused } from '../../errors.js';
import { listIn } from '../../kept.js';
import type { ParameterName, Profile, ProfileFit, ReadingSession } from '../../machine/types.js';
import { fitSessions } from '../calibration/fit-sessions.js';
import { gaugeName } from '../calibration/gauges.js';
import type { HistoryPoint } from './drift-chart.js';
import { openDoubts } from './session-days.js';

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
 * @param profiles - in order of time; a session that several profiles hold counts once. Sessions with a date are joined
 *   by date and sorted; those without one are joined by the profile that first held them and stay in the order given
 */
export function profileHistory(profiles: readonly Profile[]) {
  // What a session is to the latest profile that holds it counts: a refused day may have been settled since.
  const known = new Map<string, { readonly label: string; readonly session: ReadingSession }>();
  for (const profile of profiles) {
    for (const session of profile.sessions) {
      const key = sessionKey(session);
      known.set(key, { label: known.get(key)?.label ?? session.date ?? profile.name, session });
    }
  }
  const days = new Map<string, ReadingSession[]>();
  for (const { label, session } of known.values()) {
    if (session.readings.every(({ dropped }) => dropped)) continue;
    listIn(days, label).push(session);
  }
  const zeroFree = withoutZeros([...days.values()].flat());
  // Days without a date stay in their order, before all others.
  const dateIn = ([label]: readonly [string, unknown]): string => /^\d{4}-\d{2}-\d{2}$/.exec(label)?.[0] ?? '';
  const entries: HistoryEntry[] = [];
  // Days whose readings alone could not be fitted, with the reason.
  const skipped: { label: string; reason: string }[] = [];
  for (const [label, own] of [...days].sort((a, b) => (dateIn(a) < dateIn(b) ? -1 : dateIn(a) > dateIn(b) ? 1 : 0))) {
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
    }));
}

/** Equal for sessions that hold the same readings of one day. */
export function sessionKey({ coupon, date = '', readings }: ReadingSession): string {
  return JSON.stringify([coupon, date, readings.map((r) => [r.feature, r.readingMm ?? null, r.outcome ?? null])]);
}

import { axisAlong, vectorOf } from '../../coupon/features.js';
import { refuseAll } from '../../errors.js';
import { TYPED_WRONG } from '../../fit/calibration/causes.js';
import type { CalibrationResult, FlaggedReading } from '../../fit/calibration/types.js';
import { openDoubts, settleDoubt, withoutDoubts } from '../../fit/drift/session-days.js';
import type { ReadingsAgainstProfile } from '../../fit/drift/shifts.js';
import { makeProfile } from '../../machine/profile-file.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { count, visible } from '../../text.js';
import type { Io } from '../io.js';
import type { FitOptionValues } from '../options/calibration.js';
import { printJson, shellQuoted } from '../tell.js';

/** Fewer rows than this may agree with earlier ones by chance: gauges have coarse steps. */
const NO_CHANCE = 5;
/** On another day each row agrees in about one case of two or three, and fewer than this all do so once in a million. */
const NO_CHANCE_ON_ANOTHER_DAY = 20;

/**
 * The older readings and the fresh ones; the same readings twice would count double. A few equal numbers on another day
 * are other readings. A refused day that comes again takes its own place, so that it can be judged anew.
 *
 * @throws {InputError} READINGS_KNOWN
 */
export function joinSessions(older: readonly ReadingSession[], fresh: readonly ReadingSession[]): ReadingSession[] {
  const problems = fresh.flatMap((session, i) => {
    // A grid that was cut twice may well look alike in all its cells.
    const beside = session.features.some(({ kind }) => kind !== 'cell') ? fresh.slice(0, i) : [];
    const known = [...older, ...beside].find((other) => !other.refused && holds(session, other));
    if (!known) return [];
    const some = known.readings.length < session.readings.length;
    const day = known.date === undefined ? '' : ` of ${known.date}`;
    const isOlder = older.includes(known);
    const where = isOlder ? 'in the profile already' : `in ${known.readings[0]?.file} as well`;
    const other = session.date === undefined ? '; if these were taken on another day, say which with --date' : '';
    return [
      {
        code: 'READINGS_KNOWN',
        place: { file: session.readings[0]?.file },
        message: `${some ? `${known.readings.length} of these ${session.readings.length}` : 'these'} readings of ${session.coupon} are ${where}${day}.`,
        hint: isOlder ? `Add new readings only${other}.` : 'Leave one of the two files out: copies tell nothing new.',
      },
    ];
  });
  refuseAll(problems);
  return [...older, ...fresh];
}

/** The profile without the refused days that come again. */
export function withoutRepeats(older: Profile, fresh: readonly ReadingSession[]): Profile {
  const again = (known: ReadingSession): boolean => fresh.some((session) => holds(session, known));
  return { ...older, sessions: older.sessions.filter((known) => !(known.refused && again(known))) };
}

/** A few equal readings of another day may be chance, and are likelier the same file under another date. */
export function tellSameAgain(older: readonly ReadingSession[], fresh: readonly ReadingSession[], io: Io): void {
  for (const session of fresh) {
    const known = older.find((other) => holds(session, other, NO_CHANCE));
    if (known)
      io.say(
        `warning: the readings of ${visible(session.coupon)} are to the digit those of ${known.date ?? 'a day that is not said'}: if they are the same ones, this is no new day, and they count double. Then leave one of the two days out.\n`,
      );
  }
}

const DAY = /^\d{4}-\d{2}-\d{2}$/;

/** What `--drop` names: days of the history, and features. */
export function dropsOf(
  values: FitOptionValues,
  sessions: readonly ReadingSession[],
): { days: string[]; features: string[] } {
  const dates = new Set(sessions.map(({ date }) => date));
  const all = values.drop ?? [];
  const days = all.filter((id) => DAY.test(id));
  refuseAll(
    days
      .filter((day) => !dates.has(day))
      .map((day) => ({
        code: 'UNKNOWN_DROP',
        place: { key: '--drop' },
        message: `no readings are of ${day}.`,
        hint: `Days with readings: ${[...dates].filter((date) => date !== undefined).join(', ') || 'none is said'}.`,
      })),
  );
  return { days, features: all.filter((id) => !DAY.test(id)) };
}

/**
 * The sessions with what the user leaves out marked as such, so that it stays out when more is added.
 *
 * @param single - readings that are left out by their place, as those that the robust answer passes over
 */
export function markDropped(
  sessions: readonly ReadingSession[],
  { days, features }: { readonly days: readonly string[]; readonly features: readonly string[] },
  single: readonly { readonly session: number; readonly index: number }[] = [],
): ReadingSession[] {
  if (days.length + features.length + single.length === 0) return [...sessions];
  const dropped = new Set(features);
  const out = new Set(single.map(({ session, index }) => `${session} ${index}`));
  return sessions.map(({ refused, ...known }, s) => {
    const whole = known.date !== undefined && days.includes(known.date);
    const session = whole ? withoutDoubts(known) : known;
    const readings = session.readings.map((reading, i) => {
      const named = dropped.has(reading.feature) || dropped.has(`${session.coupon}/${reading.feature}`);
      return whole || named || out.has(`${s} ${i}`) ? { ...reading, dropped: true } : reading;
    });
    return { ...session, readings, ...(refused && !whole ? { refused } : {}) };
  });
}

/** Readings that earlier calls left out, told each time so that nobody has to remember. */
export function tellLeftOut(sessions: readonly ReadingSession[], io: Io): void {
  const left = sessions.reduce((sum, { readings }) => sum + readings.filter(({ dropped }) => dropped).length, 0);
  const words = count(left, 'reading of the profile stays', 'readings of the profile stay');
  if (left > 0) io.say(`note: ${words} out, as told earlier.\n`);
}

/** Whether all readings of `known` are among those of `session`, of the same coupon. */
function holds(session: ReadingSession, known: ReadingSession, least = NO_CHANCE_ON_ANOTHER_DAY): boolean {
  if (session.coupon !== known.coupon || known.readings.length === 0) return false;
  // A day that isn't said may be any day; and no two days give so many equal lengths.
  const lengths = known.readings.filter(({ readingMm }) => readingMm !== undefined).length;
  if (session.date !== undefined && session.date !== known.date && lengths < least) return false;
  if (known.readings.length < NO_CHANCE && known.readings.length !== session.readings.length) return false;
  const left = new Map<string, number>();
  for (const reading of session.readings) left.set(keyOf(reading), (left.get(keyOf(reading)) ?? 0) + 1);
  return known.readings.every((reading) => {
    const count = left.get(keyOf(reading)) ?? 0;
    left.set(keyOf(reading), count - 1);
    return count > 0;
  });
}

function keyOf({ feature, readingMm, outcome }: ReadingSession['readings'][number]): string {
  return JSON.stringify([feature, readingMm ?? null, outcome ?? null]);
}

/** Whether the fresh readings are those of the machine that the profile describes; undefined when there is no telling. */
export async function heldAgainst(
  older: Profile,
  fresh: readonly ReadingSession[],
  result: CalibrationResult,
  values: FitOptionValues,
): Promise<ReadingsAgainstProfile> {
  const { readingsAgainstProfile } = await import('../../fit/drift/readings-against-profile.js');
  const wrong = wrongReadings(older, fresh, result.flagged);
  const dropped = new Set(result.dropped.map(({ session, index }) => `${session - older.sessions.length} ${index}`));
  return readingsAgainstProfile(older, fresh, {
    ignore: (session, index) => wrong.has(`${session} ${index}`) || dropped.has(`${session} ${index}`),
    resolutionMm: values.resolutionMm,
  });
}

/** The sessions with what is doubtful of them now: the fresh ones are the last. */
export async function judgedSessions(
  sessions: readonly ReadingSession[],
  fresh: number,
  against: ReadingsAgainstProfile | undefined,
): Promise<readonly ReadingSession[]> {
  if (!against) return sessions;
  const { withDoubts } = await import('../../fit/drift/readings-against-profile.js');
  return withDoubts(sessions.slice(0, -fresh), sessions.slice(-fresh), against);
}

/** What comes before any stencil while a profile is in doubt: the readings that settle it. */
export function settleFirst(
  { sessions }: Profile,
  files: readonly string[],
  { out, addTo = out }: FitOptionValues,
): string[] {
  const doubts = openDoubts(sessions);
  if (!doubts || addTo === undefined) return [];
  const [known, into] = [addTo, out ?? addTo].map(shellQuoted);
  return [
    `before you cut stencils, ${settleDoubt(doubts.days)}, and add that: apertrue fit ${files.map(shellQuoted).join(' ') || 'FILE'} --add-to ${known} --out ${into}${known === into ? ' --overwrite' : ''}`,
  ];
}

/** When more of one sort than this stand out together, it is the machine that changed. */
const MOST_WRONG = 1 / 3;

/** Fresh readings that stand out because they are wrong, as against those that stand out because the machine changed. */
function wrongReadings(
  older: Profile,
  fresh: readonly ReadingSession[],
  flagged: readonly FlaggedReading[],
): ReadonlySet<string> {
  const sortOf = (session: number, id: string): string => {
    const feature = fresh[session].features.find((other) => other.id === id);
    if (!feature || !('from' in feature)) return '';
    return `${feature.kind === 'span' ? 'span' : 'width'} ${axisAlong(vectorOf(feature))}`;
  };
  const own = flagged.flatMap((reading) => {
    const session = reading.session - older.sessions.length;
    return session < 0 ? [] : [{ ...reading, session, sort: sortOf(session, reading.feature) }];
  });
  const all = fresh.flatMap(({ readings }, session) => readings.map(({ feature }) => sortOf(session, feature)));
  const share = (sort: string): number =>
    own.filter((other) => other.sort === sort).length / Math.max(1, all.filter((other) => other === sort).length);
  return new Set(
    own
      .filter(({ cause, sort }) => TYPED_WRONG.includes(cause) || share(sort) <= MOST_WRONG)
      .map(({ session, index }) => `${session} ${index}`),
  );
}

/** The older profile with the refused readings kept as such: its numbers stand, and nobody forgets that day. */
export function refusedProfile(
  older: Profile,
  fresh: readonly ReadingSession[],
  against: ReadingsAgainstProfile,
): Profile {
  const refused = against.sentences[0];
  return makeProfile({ ...older, sessions: [...older.sessions, ...fresh.map((session) => ({ ...session, refused }))] });
}

/** Readings from before and after a change, taken together, would describe neither machine. */
export function tellChange(against: ReadingsAgainstProfile, values: FitOptionValues, io: Io): void {
  if (values.json) printJson({ format: 'apertrue-fit', version: 1, against }, io);
  else for (const sentence of against.sentences) io.out(`${visible(sentence)}\n`);
  const kept =
    values.out === undefined
      ? 'With --out FILE the profile keeps them as refused'
      : 'The profile keeps them as refused; its numbers are those of before';
  io.say(
    `The new readings are not pooled with the older ones: readings from before and after a change describe neither machine. ${kept}.\n${AFTER_CHANGE}\n`,
  );
}

/** What a person does whose machine has changed. */
export const AFTER_CHANGE =
  'Cut and read scale-ruler and aperture-ladder again, and fit them without --add-to. If a day was read wrongly, leave it out: --drop DAY. To take all readings together all the same, give --keep-all.';

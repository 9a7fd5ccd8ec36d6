import { listIn } from '../../kept.js';
import {
  type Doubt,
  type Doubts,
  NUMBER_NAMES,
  PARAMETER_NAMES,
  type ParameterName,
  type ReadingSession,
  sizeWords,
} from '../../machine/types.js';

/**
 * Sessions by the day they were read, oldest first. Those without a date come first, in the order in which they were
 * added: a coupon that comes again begins a new day.
 */
export function groupsByDay(sessions: readonly ReadingSession[]): ReadingSession[][] {
  const undated: ReadingSession[][] = [];
  const dated = new Map<string, ReadingSession[]>();
  for (const session of sessions) {
    if (session.date !== undefined) {
      listIn(dated, session.date).push(session);
      continue;
    }
    const last = undated[undated.length - 1];
    if (last && !last.some(({ coupon }) => coupon === session.coupon)) last.push(session);
    else undated.push([session]);
  }
  return [...undated, ...[...dated].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, day]) => day)];
}

/** Whether two days' readings are of the same test pieces, so that they can be held against each other one to one. */
export function samePieces(a: readonly ReadingSession[], b: readonly ReadingSession[]): boolean {
  const names = (day: readonly ReadingSession[]): string => [...new Set(day.map(({ coupon }) => coupon))].sort().join();
  return names(a) === names(b);
}

/** What a day is called by: its date, or its coupon. */
const dayName = ({ date, coupon }: ReadingSession): string => date ?? coupon;

/** Days whose readings were refused when they were added, and not settled since, oldest first. */
export const refusedDays = (sessions: readonly ReadingSession[]): string[] => [
  ...new Set(
    groupsByDay(sessions)
      .flat()
      .flatMap((session) => (session.refused ? [dayName(session)] : [])),
  ),
];

/** What a profile counts though it may be of a machine that has changed. */
export type OpenDoubts = NonNullable<ReturnType<typeof openDoubts>>;

/** Doubts of days that count, which nothing has settled; undefined when there are none. */
export function openDoubts(sessions: readonly ReadingSession[]) {
  const own = groupsByDay(sessions)
    .flat()
    .filter(({ refused, doubtful }) => !refused && doubtful);
  if (own.length === 0) return undefined;
  const most = (name: ParameterName): Doubt[] =>
    own
      .flatMap(({ doubtful }) => doubtful?.[name] ?? [])
      .sort((a, b) => Math.abs(b.by) - Math.abs(a.by))
      .slice(0, 1);
  const names = PARAMETER_NAMES.filter((name) => most(name).length > 0);
  return {
    /** Oldest first. */
    days: [...new Set(own.map(dayName))],
    names,
    /** Of each number the one that is most off. */
    of: Object.fromEntries(names.map((name) => [name, most(name)[0]])) as Doubts,
  };
}

/** What of a profile is in doubt, and since when. */
export const doubtIn = ({ names, days, of }: OpenDoubts): string =>
  `doubtful: ${names.map((name) => `${NUMBER_NAMES[name]} (off by ${sizeWords(name, Math.abs(of[name]?.by ?? 0))})`).join(', ')} by the readings of ${days.join(', ')}`;

/** What a person does about readings in doubt: of these days, or those at hand. */
export const settleDoubt = (days?: readonly string[]): string =>
  `read ${days ? `the piece of ${days.join(', ')}` : 'this piece'} again, or cut and read another`;

/** A session without the doubts that `settles` names. */
export function withoutDoubts(
  { doubtful = {}, ...session }: ReadingSession,
  settles: (name: ParameterName, by: number) => boolean = () => true,
): ReadingSession {
  const left = Object.entries(doubtful).filter(([name, { by }]) => !settles(name as ParameterName, by));
  return left.length > 0 ? { ...session, doubtful: Object.fromEntries(left) } : session;
}

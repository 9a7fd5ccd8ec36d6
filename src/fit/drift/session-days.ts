import { listIn } from '../../kept.js';
import type { ReadingSession } from '../../machine/types.js';

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

/** Days whose readings were refused when they were added, and not settled since, oldest first. */
export const refusedDays = (sessions: readonly ReadingSession[]): string[] => [
  ...new Set(
    groupsByDay(sessions).flatMap((day) =>
      day.flatMap(({ refused, date, coupon }) => (refused ? [date ?? coupon] : [])),
    ),
  ),
];

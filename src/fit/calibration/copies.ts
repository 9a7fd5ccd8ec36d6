import type { Warning } from '../../errors.js';
import { listIn } from '../../kept.js';
import type { ReadingSession } from '../../machine/types.js';
import { gaugeName } from './gauges.js';

type Read = Pick<ReadingSession, 'coupon' | 'features' | 'readings'>;

/** Fewer repeats than this are equal by chance; of many, a few may have been read anew. */
const LEAST_REPEATS = 3;
const NEARLY_ALL = 0.9;
/** Cells of a grid that was cut twice mostly look alike: only where all do are they taken for copies. */
const CELLS = 'cells';

/**
 * Readings, by gauge, that say to the last digit what the first one of the same feature says, where nearly all repeats
 * do: rows that were pasted twice, or a step that makes all equal. Repeats that were read anew differ here and there.
 */
function copiesIn({ coupon, features, readings }: Read): ReadonlyMap<string, readonly number[]> {
  const byId = new Map(features.map((feature) => [feature.id, feature]));
  const first = new Map<string, number | string | undefined>();
  const repeats = new Map<string, number>();
  const equal = new Map<string, number[]>();
  readings.forEach(({ feature: id, readingMm, outcome, gauge }, index) => {
    const feature = byId.get(id);
    if (!feature) return;
    const name = feature.kind === 'cell' ? CELLS : gaugeName(gauge, coupon, feature);
    const key = JSON.stringify([name, id]);
    const value = readingMm ?? outcome;
    if (!first.has(key)) first.set(key, value);
    else {
      repeats.set(name, (repeats.get(name) ?? 0) + 1);
      if (first.get(key) === value) listIn(equal, name).push(index);
    }
  });
  return new Map(
    [...equal].filter(([name, own]) => {
      const count = repeats.get(name) ?? 0;
      return count >= LEAST_REPEATS && own.length >= (name === CELLS ? 1 : NEARLY_ALL) * count;
    }),
  );
}

/** Those of all gauges, which count no more. */
export const copiedRows = (session: Read): ReadonlySet<number> => new Set([...copiesIn(session).values()].flat());

export function copyWarnings(sessions: readonly Read[]): Warning[] {
  return sessions.flatMap((session) =>
    [...copiesIn(session)].map(([name, { length }]) => ({
      code: 'READINGS_COPIED',
      message: `${length} readings of ${name} repeat the first ones of the same features to the last digit: each counts once.`,
      hint: 'Delete rows that were copied. Readings that a coarse step makes equal tell nothing new either.',
    })),
  );
}

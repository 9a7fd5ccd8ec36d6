/**
 * Names for a sentence, and of many the first ones: `A, B and 3 more`.
 *
 * @param most - so many are all named; of more, `shown` are
 */
export function firstOf(names: readonly (string | number)[], most: number, shown = most): string {
  if (names.length <= most) return names.join(', ');
  return `${names.slice(0, shown).join(', ')} and ${names.length - shown} more`;
}

/** Runs of numbers as they may be typed: 1-4,7. */
export const allRuns = (list: readonly number[]): string => runs(list).join(',');

/** Opening numbers with runs drawn together: 1-4, 7. Not all, where there are many runs. */
export const runsOf = (list: readonly number[]): string => firstOf(runs(list), 12);

function runs(list: readonly number[]): string[] {
  const sorted = [...new Set(list)].sort((p, q) => p - q);
  const found: [number, number][] = [];
  for (const n of sorted) {
    const last = found[found.length - 1];
    if (last && n === last[1] + 1) last[1] = n;
    else found.push([n, n]);
  }
  return found.map(([from, to]) => (from === to ? String(from) : `${from}-${to}`));
}

/** So many of something: `1 opening`, `3 openings`. */
export function count(n: number, word: string, words = `${word}s`): string {
  return `${n} ${n === 1 ? word : words}`;
}

/** The same at the head of a sentence about a few: `one opening lies`, `3 openings lie`. */
export const oneOrMany = (n: number, word: string, words: string): string =>
  `${n === 1 ? 'one' : n} ${n === 1 ? word : words}`;

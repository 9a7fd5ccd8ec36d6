import { firstOf } from '../first-of.js';

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

/** Runs of numbers as they may be typed: 1-4,7. */
export const allRuns = (list: readonly number[]): string => runs(list).join(',');

/** Opening numbers with runs drawn together: 1-4, 7. Not all, where there are many runs. */
export function runsOf(list: readonly number[]): string {
  const words = runs(list);
  return words.length > 12 ? `${words.slice(0, 12).join(', ')} and ${words.length - 12} more` : words.join(', ');
}

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

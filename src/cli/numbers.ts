/** Opening numbers with runs drawn together: 1-4, 7. */
export function runsOf(list: readonly number[]): string {
  const sorted = [...new Set(list)].sort((p, q) => p - q);
  const runs: [number, number][] = [];
  for (const n of sorted) {
    const last = runs[runs.length - 1];
    if (last && n === last[1] + 1) last[1] = n;
    else runs.push([n, n]);
  }
  const words = runs.map(([from, to]) => (from === to ? String(from) : `${from}-${to}`));
  return words.length > 12 ? `${words.slice(0, 12).join(', ')} and ${words.length - 12} more` : words.join(', ');
}

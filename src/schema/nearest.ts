/** Edits (insert, delete, replace, swap neighbours) that turn one word into another. */
function editDistance(a: string, b: string): number {
  const rows = Array.from({ length: a.length + 1 }, (_, i) => [i, ...new Array<number>(b.length).fill(0)]);
  for (let j = 0; j <= b.length; j += 1) rows[0][j] = j;
  for (let i = 1; i <= a.length; i += 1) {
    for (let j = 1; j <= b.length; j += 1) {
      const cost = a[i - 1] === b[j - 1] ? 0 : 1;
      rows[i][j] = Math.min(rows[i - 1][j] + 1, rows[i][j - 1] + 1, rows[i - 1][j - 1] + cost);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        rows[i][j] = Math.min(rows[i][j], rows[i - 2][j - 2] + 1);
      }
    }
  }
  return rows[a.length][b.length];
}

/** Nobody means a name by something as long as this, and comparing it takes long. */
const LONGEST = 100;

/** Asks whether the nearest known name was meant; what to say where none is near. */
export function didYouMean<T>(name: string, known: readonly string[], otherwise: T): string | T {
  const nearest = nearestName(name, known);
  return nearest === undefined ? otherwise : `Did you mean "${nearest}"?`;
}

/** The known name that was most likely meant, or undefined when none is near. Case does not matter. */
export function nearestName(name: string, known: readonly string[]): string | undefined {
  if (name.length > LONGEST) return undefined;
  const limit = Math.max(2, Math.floor(name.length / 3));
  let best: string | undefined;
  let bestDistance = limit + 1;
  for (const candidate of known) {
    const distance = editDistance(name.toLowerCase(), candidate.toLowerCase());
    if (distance < bestDistance) {
      best = candidate;
      bestDistance = distance;
    }
  }
  return best;
}

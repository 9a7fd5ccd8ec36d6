import type { PlacedStamp } from './stamp.js';

/**
 * Paints one line of the canvas after the other, from the upper one, with a level for each opening. Later openings
 * cover earlier ones.
 */
export function paintGrey(
  placed: readonly PlacedStamp[],
  lines: number,
  level: (index: number) => number,
): (line: number, target: Uint8Array) => void {
  const startingAt = new Map<number, number[]>();
  placed.forEach(({ row, stamp }, i) => {
    if (row + stamp.height <= 0 || row >= lines) return;
    const first = Math.max(0, row);
    const list = startingAt.get(first);
    if (list) list.push(i);
    else startingAt.set(first, [i]);
  });
  let active: number[] = [];
  return (line, target) => {
    const fresh = startingAt.get(line);
    active = active.filter((i) => placed[i].row + placed[i].stamp.height > line);
    if (fresh) active = [...active, ...fresh].sort((p, q) => p - q);
    for (const i of active) {
      const { stamp, column, row } = placed[i];
      const { rowStart, runs } = stamp;
      for (let k = rowStart[line - row]; k < rowStart[line - row + 1]; k += 2) {
        target.fill(
          level(i),
          Math.max(0, column + runs[k]),
          Math.max(0, Math.min(target.length, column + runs[k + 1])),
        );
      }
    }
  };
}

import { ringBounds } from '../../../geometry/bounds.js';
import type { Ring } from '../../../geometry/types.js';

/**
 * Puts openings (y down) in reading order: rows from top to bottom, left to right within a row. A row begins with the
 * highest centre left and takes every opening whose centre lies within half its height (or half its own, if smaller).
 */
export function readingOrder<T extends { readonly outer: Ring }>(openings: readonly T[]): T[] {
  const placed = openings.map((opening) => {
    const box = ringBounds(opening.outer);
    return { opening, x: (box.minX + box.maxX) / 2, y: (box.minY + box.maxY) / 2, height: box.maxY - box.minY };
  });
  placed.sort((p, q) => p.y - q.y || p.x - q.x);
  const out: T[] = [];
  for (let from = 0; from < placed.length; ) {
    const first = placed[from];
    let to = from + 1;
    while (to < placed.length && placed[to].y - first.y <= Math.min(first.height, placed[to].height) / 2) to += 1;
    const row = placed.slice(from, to).sort((p, q) => p.x - q.x || p.y - q.y);
    for (const { opening } of row) out.push(opening);
    from = to;
  }
  return out;
}

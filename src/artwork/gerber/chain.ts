import type { Point } from '../../geometry/types.js';

/** Ends nearer than this are the same point, mm. */
const SAME_MM = 1e-4;

export interface Chained {
  /** Closed contours, first point not repeated. */
  readonly rings: Point[][];
  /** Widest gap that had to be bridged, mm; 0 for none. */
  readonly widestGapMm: number;
  /** Chains that could not be closed. */
  readonly open: Point[][];
}

/**
 * Joins stroke centre lines end to end into closed contours; strokes may come in any order and direction.
 *
 * @param paths - centre lines, mm, at least two points each
 * @param gapMm - ends this far apart still join
 */
export function chainPaths(paths: readonly (readonly Point[])[], gapMm: number): Chained {
  const left = paths.map((points) => [...points]).filter((points) => points.length >= 2);
  const rings: Point[][] = [];
  const open: Point[][] = [];
  let widestGapMm = 0;
  const distance = (p: Point, q: Point): number => Math.hypot(p[0] - q[0], p[1] - q[1]);
  while (left.length > 0) {
    const chain = left.pop() as Point[];
    for (;;) {
      const end = chain[chain.length - 1];
      const toStart = chain.length > 2 ? distance(end, chain[0]) : Infinity;
      let best = -1;
      let bestDistance = Math.min(gapMm, toStart);
      let turned = false;
      left.forEach((points, i) => {
        const head = distance(end, points[0]);
        const tail = distance(end, points[points.length - 1]);
        if (Math.min(head, tail) < bestDistance || (best < 0 && Math.min(head, tail) <= SAME_MM && toStart > SAME_MM)) {
          best = i;
          bestDistance = Math.min(head, tail);
          turned = tail < head;
        }
      });
      if (best < 0) break;
      const [next] = left.splice(best, 1);
      if (turned) next.reverse();
      if (bestDistance > SAME_MM) widestGapMm = Math.max(widestGapMm, bestDistance);
      chain.push(...(bestDistance > SAME_MM ? next : next.slice(1)));
    }
    const gap = distance(chain[0], chain[chain.length - 1]);
    if (chain.length > 2 && gap <= gapMm) {
      if (gap > SAME_MM) widestGapMm = Math.max(widestGapMm, gap);
      rings.push(gap <= SAME_MM ? chain.slice(0, -1) : chain);
    } else open.push(chain);
  }
  return { rings: rings.filter((ring) => ring.length >= 3), widestGapMm, open };
}

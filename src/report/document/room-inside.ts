import { boundsOf } from '../../geometry/bounds.js';
import type { Box, Region } from '../../geometry/types.js';

/** Levels at which walls are looked for; words need no better place. */
const LEVELS = 15;

type Run = readonly [from: number, to: number];

/**
 * The upright box within an opening that takes the largest words: of an L it lies in a limb, of a frame in a side.
 *
 * @param regions - outer rings and islands, mm
 * @param sizeIn - how large the words may be in a box, mm
 * @returns undefined where no opening is there
 */
export function roomInside(regions: readonly Region[], sizeIn: (box: Box) => number): Box | undefined {
  const bounds = boundsOf(regions);
  if (!bounds) return undefined;
  const step = (bounds.maxY - bounds.minY) / LEVELS;
  const levels = Array.from({ length: LEVELS }, (_, i) => runsAt(regions, bounds.minY + (i + 0.5) * step));
  let best: Box | undefined;
  for (let low = 0; low < LEVELS; low += 1) {
    let shared = levels[low];
    for (let high = low; high < LEVELS && shared.length > 0; high += 1) {
      shared = both(shared, levels[high]);
      for (const [minX, maxX] of shared) {
        const box = { minX, maxX, minY: bounds.minY + low * step, maxY: bounds.minY + (high + 1) * step };
        if (best === undefined || isBetter(box, best, sizeIn, bounds)) best = box;
      }
    }
  }
  return best ?? bounds;
}

/** Larger words, or the same nearer to the middle. */
function isBetter(box: Box, best: Box, sizeIn: (box: Box) => number, bounds: Box): boolean {
  const gain = sizeIn(box) - sizeIn(best);
  if (Math.abs(gain) > 1e-9) return gain > 0;
  return offMiddle(box, bounds) < offMiddle(best, bounds) - 1e-9;
}

const offMiddle = (box: Box, bounds: Box): number =>
  Math.hypot(box.minX + box.maxX - bounds.minX - bounds.maxX, box.minY + box.maxY - bounds.minY - bounds.maxY);

/** Where a level line runs through the opening. */
function runsAt(regions: readonly Region[], y: number): Run[] {
  const crossings: number[] = [];
  for (const ring of regions.flatMap(({ outer, islands }) => [outer, ...islands])) {
    ring.forEach(([x1, y1], i) => {
      const [x2, y2] = ring[(i + 1) % ring.length];
      if (y1 > y !== y2 > y) crossings.push(x1 + ((y - y1) / (y2 - y1)) * (x2 - x1));
    });
  }
  crossings.sort((p, q) => p - q);
  const runs: Run[] = [];
  for (let i = 0; i + 1 < crossings.length; i += 2) runs.push([crossings[i], crossings[i + 1]]);
  return runs;
}

function both(ones: readonly Run[], others: readonly Run[]): Run[] {
  return ones.flatMap(([a, b]) =>
    others.map(([c, d]): Run => [Math.max(a, c), Math.min(b, d)]).filter(([from, to]) => to > from),
  );
}

import type { Box } from './types.js';
import { budgetInForce } from './work-budget.js';

/** Finds boxes near a box without looking at all of them. */
export interface BoxIndex {
  /** Positions of the boxes that overlap `box` or come nearer than `gapMm`, ascending. */
  near(box: Box, gapMm?: number): number[];
  /** The others of which that is so of the box at position i. */
  nearTo(i: number, gapMm?: number): number[];
  /** Whether one of those is what is looked for; in no order, and no further than to the first one. */
  some(box: Box, is: (i: number) => boolean, gapMm?: number): boolean;
  /** Distance between two boxes by their positions, mm; 0 when they overlap. */
  distance(i: number, j: number): number;
  /** Visits all pairs of boxes that overlap or come nearer than `gapMm` to each other, ascending by i, then j > i. */
  eachPair(visit: (i: number, j: number) => void, gapMm?: number): void;
}

const MAX_CELLS_PER_BOX = 64;
const MAX_CELLS_ALONG = 1024;
/** What a look at a box costs in a search for pairs, in the units of `WorkBudget`. */
const BOX_COST = 0.05;

/**
 * A grid over boxes; cells are about as large as a usual box and its share of the area.
 *
 * @param items - what has the boxes; the index refers to them by position
 * @param boxOf - mm; asked once for each
 */
export function boxIndex<T>(items: readonly T[], boxOf: (item: T) => Box): BoxIndex {
  const count = items.length;
  const [minX, minY] = [new Float64Array(count), new Float64Array(count)];
  const [maxX, maxY] = [new Float64Array(count), new Float64Array(count)];
  for (let i = 0; i < count; i += 1) {
    const box = boxOf(items[i]);
    minX[i] = box.minX;
    minY[i] = box.minY;
    maxX[i] = box.maxX;
    maxY[i] = box.maxY;
  }
  const [left, right] = usualRange(minX, maxX);
  const [low, high] = usualRange(minY, maxY);
  const spread = Math.sqrt(((right - left) * (high - low)) / Math.max(1, count));
  const cell = Math.max(spread, (right - left) / MAX_CELLS_ALONG, (high - low) / MAX_CELLS_ALONG, 1e-6);
  const columns = Math.floor((right - left) / cell) + 1;
  const rows = Math.floor((high - low) / cell) + 1;
  const column = (x: number): number => Math.min(columns - 1, Math.max(0, Math.floor((x - left) / cell)));
  const row = (y: number): number => Math.min(rows - 1, Math.max(0, Math.floor((y - low) / cell)));
  // A box that covers very many cells is cheaper to look at every time.
  const large: number[] = [];
  const eachEntry = (visit: (cell: number, i: number) => void): void => {
    large.length = 0;
    for (let i = 0; i < count; i += 1) {
      const [c0, c1] = [column(minX[i]), column(maxX[i])];
      const [r0, r1] = [row(minY[i]), row(maxY[i])];
      if ((c1 - c0 + 1) * (r1 - r0 + 1) > MAX_CELLS_PER_BOX) large.push(i);
      else for (let r = r0; r <= r1; r += 1) for (let c = c0; c <= c1; c += 1) visit(r * columns + c, i);
    }
  };
  // The boxes of all cells stand in one list, one cell after the other, each ascending: counted two places ahead, so that
  // filling the list moves every start to where it belongs.
  const starts = new Uint32Array(columns * rows + 2);
  eachEntry((at) => {
    starts[at + 2] += 1;
  });
  for (let at = 2; at < starts.length; at += 1) starts[at] += starts[at - 1];
  const listed = new Uint32Array(starts[columns * rows + 1]);
  eachEntry((at, i) => {
    listed[starts[at + 1]] = i;
    starts[at + 1] += 1;
  });
  // A box that lies in several cells is looked at once in each round.
  const seen = new Uint32Array(count);
  let [round, looks] = [0, 0];
  const distanceTo = (i: number, box: Box): number => {
    const dx = Math.max(0, minX[i] - box.maxX, box.minX - maxX[i]);
    const dy = Math.max(0, minY[i] - box.maxY, box.minY - maxY[i]);
    return dx === 0 || dy === 0 ? dx + dy : Math.sqrt(dx * dx + dy * dy);
  };
  const some: BoxIndex['some'] = (box, is, gapMm = 0) => {
    round += 1;
    const own = round;
    looks += large.length;
    for (const i of large) if (distanceTo(i, box) <= gapMm && is(i)) return true;
    const [c0, c1] = [column(box.minX - gapMm), column(box.maxX + gapMm)];
    const [r0, r1] = [row(box.minY - gapMm), row(box.maxY + gapMm)];
    for (let r = r0; r <= r1; r += 1) {
      for (let c = c0; c <= c1; c += 1) {
        const at = r * columns + c;
        looks += starts[at + 1] - starts[at];
        for (let k = starts[at]; k < starts[at + 1]; k += 1) {
          const i = listed[k];
          if (seen[i] === own) continue;
          seen[i] = own;
          if (distanceTo(i, box) <= gapMm && is(i)) return true;
        }
      }
    }
    return false;
  };
  const near: BoxIndex['near'] = (box, gapMm) => {
    const found: number[] = [];
    const take = (i: number): boolean => {
      found.push(i);
      return false;
    };
    some(box, take, gapMm);
    return found.length > 1 ? found.sort((p, q) => p - q) : found;
  };
  const boxAt = (i: number): Box => ({ minX: minX[i], minY: minY[i], maxX: maxX[i], maxY: maxY[i] });
  return {
    near,
    some,
    nearTo: (i, gapMm) => near(boxAt(i), gapMm).filter((j) => j !== i),
    distance: (i, j) => distanceTo(i, boxAt(j)),
    eachPair(visit, gapMm) {
      const budget = budgetInForce();
      for (let i = 0; i < count; i += 1) {
        looks = 0;
        const found = near(boxAt(i), gapMm);
        budget?.spend(looks * BOX_COST);
        for (const j of found) if (j > i) visit(i, j);
      }
    },
  };
}

/**
 * From where to where boxes lie along an axis, without what lies far off: a grid over that as well would hold all others
 * in one cell. Boxes spread evenly lie from their mean no farther than twice as far as on average.
 */
function usualRange(min: Float64Array, max: Float64Array): readonly [number, number] {
  let [low, high] = [-Infinity, Infinity];
  for (;;) {
    let [count, least, most, sum, size, off] = [0, Infinity, -Infinity, 0, 0, 0];
    const isIn = (i: number): boolean => max[i] >= low && min[i] <= high;
    for (let i = 0; i < min.length; i += 1) {
      if (!isIn(i)) continue;
      count += 1;
      least = Math.min(least, min[i]);
      most = Math.max(most, max[i]);
      sum += (min[i] + max[i]) / 2;
      size += max[i] - min[i];
    }
    if (count === 0) return [0, 0];
    const mean = sum / count;
    for (let i = 0; i < min.length; i += 1) if (isIn(i)) off += Math.abs((min[i] + max[i]) / 2 - mean);
    const reach = (4 * off + size) / count;
    const before = high - low;
    [low, high] = [Math.max(least, mean - reach), Math.min(most, mean + reach)];
    if (before < 2 * (high - low) || high - low === most - least) return [low, high];
  }
}

import type { Box } from './types.js';
import { budgetInForce } from './work-budget.js';

const MAX_CELLS_PER_BOX = 64;
const MAX_CELLS_ALONG = 1024;
/** What a look at a box costs in a search for pairs, in the units of `WorkBudget`. */
const BOX_COST = 0.05;

/**
 * Finds boxes near a box without looking at all of them.
 *
 * @param items - what has the boxes; the index refers to them by position
 * @param boxOf - mm; asked once for each
 */
export function boxIndex<T>(items: readonly T[], boxOf: (item: T) => Box): BoxIndex {
  const sides = new Float64Array(4 * items.length);
  for (let i = 0; i < items.length; i += 1) {
    const { minX, minY, maxX, maxY } = boxOf(items[i]);
    sides[4 * i] = minX;
    sides[4 * i + 1] = minY;
    sides[4 * i + 2] = maxX;
    sides[4 * i + 3] = maxY;
  }
  return new BoxIndex(sides);
}

/** A grid over boxes; cells are about as large as a usual box and its share of the area. */
export class BoxIndex {
  private readonly left: number;
  private readonly low: number;
  private readonly cell: number;
  private readonly columns: number;
  private readonly rows: number;
  /** The boxes of all cells, one cell after the other, each ascending, and where those of a cell begin. */
  private readonly listed: Uint32Array;
  private readonly starts: Uint32Array;
  /** A box that covers very many cells is cheaper to look at every time. */
  private readonly large: number[] = [];
  /** A box that lies in several cells is looked at once in each round. */
  private readonly seen: Uint32Array;
  private round = 0;
  private looks = 0;

  /** @param sides - minX, minY, maxX, maxY of each box, mm */
  constructor(private readonly sides: Float64Array) {
    const count = sides.length / 4;
    const [left, right] = usualRange(sides, 0);
    const [low, high] = usualRange(sides, 1);
    const spread = Math.sqrt(((right - left) * (high - low)) / Math.max(1, count));
    this.cell = Math.max(spread, (right - left) / MAX_CELLS_ALONG, (high - low) / MAX_CELLS_ALONG, 1e-6);
    [this.left, this.low] = [left, low];
    this.columns = Math.floor((right - left) / this.cell) + 1;
    this.rows = Math.floor((high - low) / this.cell) + 1;
    // Counted two places ahead, so that filling the list moves every start to where it belongs.
    this.starts = new Uint32Array(this.columns * this.rows + 2);
    for (let i = 0; i < count; i += 1) this.enter(i, undefined);
    for (let at = 2; at < this.starts.length; at += 1) this.starts[at] += this.starts[at - 1];
    this.listed = new Uint32Array(this.starts[this.starts.length - 1]);
    for (let i = 0; i < count; i += 1) this.enter(i, this.listed);
    this.seen = new Uint32Array(count);
  }

  /** Counts a box in its cells or, once all are counted, lists it there. */
  private enter(i: number, listed: Uint32Array | undefined): void {
    const { sides, starts, columns } = this;
    const c0 = this.columnAt(sides[4 * i]);
    const c1 = this.columnAt(sides[4 * i + 2]);
    const r0 = this.rowAt(sides[4 * i + 1]);
    const r1 = this.rowAt(sides[4 * i + 3]);
    if ((c1 - c0 + 1) * (r1 - r0 + 1) > MAX_CELLS_PER_BOX) {
      if (listed) this.large.push(i);
      return;
    }
    for (let r = r0; r <= r1; r += 1) {
      for (let at = r * columns + c0; at <= r * columns + c1; at += 1) {
        if (listed) {
          listed[starts[at + 1]] = i;
          starts[at + 1] += 1;
        } else starts[at + 2] += 1;
      }
    }
  }

  private columnAt(x: number): number {
    return Math.min(this.columns - 1, Math.max(0, Math.floor((x - this.left) / this.cell)));
  }

  private rowAt(y: number): number {
    return Math.min(this.rows - 1, Math.max(0, Math.floor((y - this.low) / this.cell)));
  }

  private boxAt(i: number): Box {
    const { sides } = this;
    return { minX: sides[4 * i], minY: sides[4 * i + 1], maxX: sides[4 * i + 2], maxY: sides[4 * i + 3] };
  }

  /** Distance between two boxes by their positions, mm; 0 when they overlap. */
  distance(i: number, j: number): number {
    return this.distanceTo(i, this.boxAt(j));
  }

  private distanceTo(i: number, box: Box): number {
    const { sides } = this;
    const dx = Math.max(0, sides[4 * i] - box.maxX, box.minX - sides[4 * i + 2]);
    const dy = Math.max(0, sides[4 * i + 1] - box.maxY, box.minY - sides[4 * i + 3]);
    return dx === 0 || dy === 0 ? dx + dy : Math.sqrt(dx * dx + dy * dy);
  }

  /** Positions of the boxes that overlap `box` or come nearer than `gapMm`, ascending. */
  near(box: Box, gapMm = 0): number[] {
    const found: number[] = [];
    this.search(box, gapMm, found);
    return ascending(found);
  }

  /** The others of which that is so of the box at position i. */
  nearTo(i: number, gapMm = 0): number[] {
    return this.near(this.boxAt(i), gapMm).filter((j) => j !== i);
  }

  /** Whether one of those near is what is looked for; in no order, and not much further than to the first one. */
  some(box: Box, is: (i: number) => boolean, gapMm = 0): boolean {
    return this.search(box, gapMm, [], is);
  }

  /** Visits all pairs of boxes that overlap or come nearer than `gapMm` to each other, ascending by i, then j > i. */
  eachPair(visit: (i: number, j: number) => void, gapMm = 0): void {
    const budget = budgetInForce();
    let found: number[] = [];
    for (let i = 0; 4 * i < this.sides.length; i += 1) {
      this.looks = 0;
      this.search(this.boxAt(i), gapMm, found, undefined, i + 1);
      budget?.spend(this.looks * BOX_COST);
      if (found.length === 0) continue;
      for (const j of ascending(found)) visit(i, j);
      found = [];
    }
  }

  /** Gathers what is near, from a position on, cell by cell, until one of it is what is looked for. */
  private search(box: Box, gapMm: number, found: number[], is?: (i: number) => boolean, from = 0): boolean {
    const { columns, starts, listed, seen, large } = this;
    this.round += 1;
    const { round } = this;
    this.looks += large.length;
    for (const i of large) if (i >= from && this.distanceTo(i, box) <= gapMm) found.push(i);
    if (is && found.some(is)) return true;
    const c0 = this.columnAt(box.minX - gapMm);
    const c1 = this.columnAt(box.maxX + gapMm);
    const r0 = this.rowAt(box.minY - gapMm);
    const r1 = this.rowAt(box.maxY + gapMm);
    for (let r = r0; r <= r1; r += 1) {
      // Cells of a row stand one after the other in the list.
      const first = starts[r * columns + c0];
      const end = starts[r * columns + c1 + 1];
      const before = found.length;
      this.looks += end - first;
      for (let k = first; k < end; k += 1) {
        const i = listed[k];
        if (i < from || seen[i] === round) continue;
        seen[i] = round;
        if (this.distanceTo(i, box) <= gapMm) found.push(i);
      }
      if (is && found.slice(before).some(is)) return true;
    }
    return false;
  }
}

const ascending = (found: number[]): number[] => (found.length > 1 ? found.sort((p, q) => p - q) : found);

/**
 * From where to where boxes lie along an axis, without what lies far off: a grid over that as well would hold all others
 * in one cell. Half of boxes that are spread evenly take half of the room, and the others a quarter on either side.
 */
function usualRange(sides: Float64Array, side: 0 | 1): readonly [number, number] {
  const count = sides.length / 4;
  if (count === 0) return [0, 0];
  const middles = new Float64Array(count);
  for (let i = 0; i < count; i += 1) middles[i] = (sides[4 * i + side] + sides[4 * i + side + 2]) / 2;
  middles.sort();
  const [first, third] = [middles[count >> 2], middles[(3 * count) >> 2]];
  return [Math.max(middles[0], first - (third - first)), Math.min(middles[count - 1], third + (third - first))];
}

import { boxDistance } from './bounds.js';
import type { Box } from './types.js';
import { budgetInForce } from './work-budget.js';

/** So many boxes, or boxes of boxes, share one around them. */
const FAN = 16;
/** What a box that is found costs in a search for pairs, in the units of `WorkBudget`. */
const BOX_COST = 0.2;

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

/** A tree of boxes, packed as densely as can be: the order of its leaves is by strips across X, and by Y within each. */
export class BoxIndex {
  /** Positions of the boxes, as they stand in the lowest level. */
  private readonly order: Uint32Array;
  /** From the boxes themselves up to one around all: minX, minY, maxX, maxY of each. */
  private readonly levels: Float64Array[];

  /** @param sides - minX, minY, maxX, maxY of each box, mm */
  constructor(private readonly sides: Float64Array) {
    this.order = inStrips(sides);
    let level = new Float64Array(sides.length);
    for (let at = 0; at < level.length; at += 1) level[at] = sides[4 * this.order[at >> 2] + (at & 3)];
    this.levels = [level];
    while (level.length > 4) {
      level = boxesAround(level);
      this.levels.push(level);
    }
  }

  private boxAt(i: number): Box {
    const { sides } = this;
    return { minX: sides[4 * i], minY: sides[4 * i + 1], maxX: sides[4 * i + 2], maxY: sides[4 * i + 3] };
  }

  /** Distance between two boxes by their positions, mm; 0 when they overlap. */
  distance(i: number, j: number): number {
    return boxDistance(this.boxAt(i), this.boxAt(j));
  }

  /** Positions of the boxes that overlap `box` or come nearer than `gapMm`, ascending. */
  near(box: Box, gapMm = 0): number[] {
    const found: number[] = [];
    this.search(this.levels.length - 1, 0, box, gapMm, found);
    return found.length > 1 ? found.sort((p, q) => p - q) : found;
  }

  /** The others of which that is so of the box at position i. */
  nearTo(i: number, gapMm = 0): number[] {
    return this.near(this.boxAt(i), gapMm).filter((j) => j !== i);
  }

  /** Whether one of those near is what is looked for; in no order, and no further than to the first one. */
  some(box: Box, is: (i: number) => boolean, gapMm = 0): boolean {
    return this.search(this.levels.length - 1, 0, box, gapMm, [], is);
  }

  /** Gathers what is near of the boxes that share one, until one of it is what is looked for. */
  private search(
    level: number,
    first: number,
    box: Box,
    gapMm: number,
    found: number[],
    is?: (i: number) => boolean,
  ): boolean {
    const sides = this.levels[level];
    const { minX, minY, maxX, maxY } = box;
    const end = Math.min(4 * (first + FAN), sides.length);
    for (let at = 4 * first; at < end; at += 4) {
      const dx = sides[at] > maxX ? sides[at] - maxX : minX > sides[at + 2] ? minX - sides[at + 2] : 0;
      if (dx > gapMm) continue;
      const dy = sides[at + 1] > maxY ? sides[at + 1] - maxY : minY > sides[at + 3] ? minY - sides[at + 3] : 0;
      if (dy > gapMm || (dx > 0 && dy > 0 && Math.sqrt(dx * dx + dy * dy) > gapMm)) continue;
      if (level > 0) {
        if (this.search(level - 1, (at / 4) * FAN, box, gapMm, found, is)) return true;
        continue;
      }
      found.push(this.order[at / 4]);
      if (is?.(this.order[at / 4])) return true;
    }
    return false;
  }

  /** Visits all pairs of boxes that overlap or come nearer than `gapMm` to each other, ascending by i, then j > i. */
  eachPair(visit: (i: number, j: number) => void, gapMm = 0): void {
    const budget = budgetInForce();
    for (let i = 0; 4 * i < this.sides.length; i += 1) {
      const found = this.near(this.boxAt(i), gapMm);
      budget?.spend(found.length * BOX_COST);
      for (const j of found) if (j > i) visit(i, j);
    }
  }
}

/** Positions of boxes so that those beside each other stand together. */
function inStrips(sides: Float64Array): Uint32Array {
  const count = sides.length / 4;
  const by = (side: 0 | 1) => (p: number, q: number) =>
    sides[4 * p + side] + sides[4 * p + side + 2] - sides[4 * q + side] - sides[4 * q + side + 2];
  const order = Uint32Array.from({ length: count }, (_, i) => i).sort(by(0));
  const strip = FAN * Math.ceil(Math.sqrt(count / FAN));
  for (let from = 0; from < count; from += strip) order.subarray(from, from + strip).sort(by(1));
  return order;
}

/** The boxes around so many of a level each. */
function boxesAround(below: Float64Array): Float64Array<ArrayBuffer> {
  const boxes = new Float64Array(4 * Math.ceil(below.length / 4 / FAN));
  for (let at = 0; at < boxes.length; at += 1) {
    const [first, least] = [4 * FAN * Math.floor(at / 4) + (at % 4), at % 4 < 2];
    boxes[at] = below[first];
    for (let k = first + 4; k < Math.min(first + 4 * FAN, below.length); k += 4)
      boxes[at] = least ? Math.min(boxes[at], below[k]) : Math.max(boxes[at], below[k]);
  }
  return boxes;
}

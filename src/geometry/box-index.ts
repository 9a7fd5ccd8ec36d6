import { joinBoxes } from './bounds.js';
import { boxDistance } from './box-distance.js';
import type { Box } from './types.js';

/** Finds boxes near a box without looking at all of them. */
export interface BoxIndex {
  /** Positions of the boxes that overlap `box` or come nearer than `gapMm`, ascending. */
  near(box: Box, gapMm?: number): number[];
  /** Whether one of those is what is looked for; in no order, and no further than to the first one. */
  some(box: Box, is: (i: number) => boolean, gapMm?: number): boolean;
}

const MAX_CELLS_PER_BOX = 64;

/**
 * A grid over the boxes; cells are about as large as a usual box and its share of the area.
 *
 * @param boxes - mm; the index refers to them by position
 */
export function boxIndex(boxes: readonly Box[]): BoxIndex {
  if (boxes.length === 0) return { near: () => [], some: () => false };
  const all = boxes.reduce(joinBoxes);
  const spread = Math.sqrt(((all.maxX - all.minX) * (all.maxY - all.minY)) / boxes.length);
  const cell = Math.max(spread, (all.maxX - all.minX) / 1024, (all.maxY - all.minY) / 1024, 1e-6);
  const columns = Math.floor((all.maxX - all.minX) / cell) + 1;
  const rows = Math.floor((all.maxY - all.minY) / cell) + 1;
  const column = (x: number): number => Math.min(columns - 1, Math.max(0, Math.floor((x - all.minX) / cell)));
  const row = (y: number): number => Math.min(rows - 1, Math.max(0, Math.floor((y - all.minY) / cell)));
  // A box that covers very many cells is cheaper to look at every time.
  const large: number[] = [];
  const eachEntry = (visit: (cell: number, i: number) => void): void => {
    large.length = 0;
    for (let i = 0; i < boxes.length; i += 1) {
      const box = boxes[i];
      const c0 = column(box.minX);
      const c1 = column(box.maxX);
      const r0 = row(box.minY);
      const r1 = row(box.maxY);
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
  const seen = new Uint32Array(boxes.length);
  let round = 0;
  const some: BoxIndex['some'] = (box, is, gapMm = 0) => {
    round += 1;
    const own = round;
    for (const i of large) if (boxDistance(boxes[i], box) <= gapMm && is(i)) return true;
    const [c0, c1] = [column(box.minX - gapMm), column(box.maxX + gapMm)];
    const [r0, r1] = [row(box.minY - gapMm), row(box.maxY + gapMm)];
    for (let r = r0; r <= r1; r += 1) {
      for (let c = c0; c <= c1; c += 1) {
        const at = r * columns + c;
        for (let k = starts[at]; k < starts[at + 1]; k += 1) {
          const i = listed[k];
          if (seen[i] === own) continue;
          seen[i] = own;
          if (boxDistance(boxes[i], box) <= gapMm && is(i)) return true;
        }
      }
    }
    return false;
  };
  return {
    some,
    near(box, gapMm = 0) {
      const found: number[] = [];
      const take = (i: number): boolean => {
        found.push(i);
        return false;
      };
      some(box, take, gapMm);
      return found.length > 1 ? found.sort((p, q) => p - q) : found;
    },
  };
}

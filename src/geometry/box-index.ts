import { boxDistance } from './box-distance.js';
import type { Box } from './types.js';

/** Finds boxes near a box without looking at all of them. */
export interface BoxIndex {
  /** Positions of the boxes that overlap `box` or come nearer than `gapMm`, ascending. */
  near(box: Box, gapMm?: number): number[];
}

const MAX_CELLS_PER_BOX = 64;

/**
 * A grid over the boxes; cells are about as large as a usual box and its share of the area.
 *
 * @param boxes - mm; the index refers to them by position
 */
export function boxIndex(boxes: readonly Box[]): BoxIndex {
  if (boxes.length === 0) return { near: () => [] };
  const all = boxes.reduce((p, q) => ({
    minX: Math.min(p.minX, q.minX),
    minY: Math.min(p.minY, q.minY),
    maxX: Math.max(p.maxX, q.maxX),
    maxY: Math.max(p.maxY, q.maxY),
  }));
  const spread = Math.sqrt(((all.maxX - all.minX) * (all.maxY - all.minY)) / boxes.length);
  const cell = Math.max(spread, (all.maxX - all.minX) / 1024, (all.maxY - all.minY) / 1024, 1e-6);
  const columns = Math.floor((all.maxX - all.minX) / cell) + 1;
  const rows = Math.floor((all.maxY - all.minY) / cell) + 1;
  const cells = new Map<number, number[]>();
  // A box that covers very many cells is cheaper to look at every time.
  const large: number[] = [];
  const column = (x: number): number => Math.min(columns - 1, Math.max(0, Math.floor((x - all.minX) / cell)));
  const row = (y: number): number => Math.min(rows - 1, Math.max(0, Math.floor((y - all.minY) / cell)));
  boxes.forEach((box, i) => {
    const [c0, c1, r0, r1] = [column(box.minX), column(box.maxX), row(box.minY), row(box.maxY)];
    if ((c1 - c0 + 1) * (r1 - r0 + 1) > MAX_CELLS_PER_BOX) {
      large.push(i);
      return;
    }
    for (let r = r0; r <= r1; r += 1) {
      for (let c = c0; c <= c1; c += 1) {
        const list = cells.get(r * columns + c);
        if (list) list.push(i);
        else cells.set(r * columns + c, [i]);
      }
    }
  });
  // A box that lies in several cells is looked at once in each round.
  const seen = new Uint32Array(boxes.length);
  let round = 0;
  return {
    near(box, gapMm = 0) {
      const found: number[] = [];
      round += 1;
      for (const i of large) if (boxDistance(boxes[i], box) <= gapMm) found.push(i);
      const [c0, c1] = [column(box.minX - gapMm), column(box.maxX + gapMm)];
      const [r0, r1] = [row(box.minY - gapMm), row(box.maxY + gapMm)];
      for (let r = r0; r <= r1; r += 1) {
        for (let c = c0; c <= c1; c += 1) {
          const list = cells.get(r * columns + c);
          if (!list) continue;
          for (const i of list) {
            if (seen[i] === round) continue;
            seen[i] = round;
            if (boxDistance(boxes[i], box) <= gapMm) found.push(i);
          }
        }
      }
      return found.length > 1 ? found.sort((p, q) => p - q) : found;
    },
  };
}

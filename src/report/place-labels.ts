import type { Box } from '../geometry/types.js';
import { listIn } from '../kept.js';

/** A label to place next to what it names; all in px, y down. */
interface LabelWish {
  readonly words: string;
  readonly width: number;
  readonly height: number;
  readonly around: Box;
  /** It names one thing, and may stand on it. */
  readonly single: boolean;
}

/** A placed label; `leader` runs from the named thing to the label when they stand apart. */
export interface Label {
  readonly words: string;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  /** It stands on the named thing itself, perhaps in a smaller size. */
  readonly inside?: boolean;
  readonly leader?: readonly [number, number, number, number];
}

const CELL = 24;

/** Boxes that are taken, for quick overlap tests. */
function occupied(): { add(box: Box): void; clash(box: Box): number } {
  const cells = new Map<string, Box[]>();
  const visit = (box: Box, each: (key: string) => void): void => {
    for (let c = Math.floor(box.minX / CELL); c <= Math.floor(box.maxX / CELL); c += 1) {
      for (let r = Math.floor(box.minY / CELL); r <= Math.floor(box.maxY / CELL); r += 1) each(`${c},${r}`);
    }
  };
  const overlap = (p: Box, q: Box): number =>
    Math.max(0, Math.min(p.maxX, q.maxX) - Math.max(p.minX, q.minX)) *
    Math.max(0, Math.min(p.maxY, q.maxY) - Math.max(p.minY, q.minY));
  return {
    add(box) {
      visit(box, (key) => {
        listIn(cells, key).push(box);
      });
    },
    clash(box) {
      const seen = new Set<Box>();
      let area = 0;
      visit(box, (key) => {
        for (const other of cells.get(key) ?? []) {
          if (seen.has(other)) continue;
          seen.add(other);
          area += overlap(box, other);
        }
      });
      return area;
    },
  };
}

const DISTANCES = [3, 10, 20, 34, 50, 70, 100, 140, 190];
const DIRECTIONS = [
  [0, -1],
  [0, 1],
  [1, 0],
  [-1, 0],
  [0.7, -0.7],
  [-0.7, -0.7],
  [0.7, 0.7],
  [-0.7, 0.7],
] as const;

/** Labels are set no smaller than this share of their size. */
const SMALLEST_SHARE = 0.85;

/** The label on the named thing itself, if it fits there. */
function onTop({ words, width, height, around }: LabelWish): Label | undefined {
  const share = Math.min(1, (around.maxX - around.minX) / width, (around.maxY - around.minY) / (height * 1.1));
  if (share < SMALLEST_SHARE) return undefined;
  const [w, h] = [width * share, height * share];
  const x = (around.minX + around.maxX - w) / 2;
  const y = (around.minY + around.maxY - h) / 2;
  return { words, x, y, width: w, height: h, inside: true };
}

/**
 * Places labels on what they name where they fit, else one after the other: each takes the nearest spot that covers
 * neither a label nor one of `obstacles`, or the spot that covers least of these. No label covers another: one that
 * finds no room is left out, for two on one spot can't be read either.
 *
 * @param frame - labels stay inside it
 */
export function placeLabels(wishes: readonly LabelWish[], obstacles: readonly Box[], frame: Box): Label[] {
  const things = occupied();
  const taken = occupied();
  for (const box of obstacles) things.add(box);
  return wishes.flatMap((wish) => {
    const inside = wish.single ? onTop(wish) : undefined;
    if (inside) {
      taken.add({ minX: inside.x, minY: inside.y, maxX: inside.x + inside.width, maxY: inside.y + inside.height });
      return inside;
    }
    const { width, height, around } = wish;
    const cx = (around.minX + around.maxX) / 2;
    const cy = (around.minY + around.maxY) / 2;
    let best: { x: number; y: number; cost: number; far: number } | undefined;
    for (const far of DISTANCES) {
      for (const [dx, dy] of DIRECTIONS) {
        const reachX = (around.maxX - around.minX) / 2 + width / 2 + far;
        const reachY = (around.maxY - around.minY) / 2 + height / 2 + far;
        const x = Math.min(frame.maxX - width, Math.max(frame.minX, cx + dx * reachX - width / 2));
        const y = Math.min(frame.maxY - height, Math.max(frame.minY, cy + dy * reachY - height / 2));
        const box = { minX: x, minY: y, maxX: x + width, maxY: y + height };
        if (taken.clash(box) > 0) continue;
        const cost = things.clash(box) * 10 + far;
        if (!best || cost < best.cost) best = { x, y, cost, far };
      }
      if (best && best.cost <= far) break;
    }
    if (!best) return [];
    const { x, y, far } = best;
    taken.add({ minX: x, minY: y, maxX: x + width, maxY: y + height });
    const label = { words: wish.words, x, y, width, height };
    if (far <= DISTANCES[0]) return label;
    const endX = Math.min(x + width, Math.max(x, cx));
    const endY = Math.min(y + height, Math.max(y, cy));
    // From the middle of one thing, from the edge of several.
    const startX = wish.single ? cx : Math.min(around.maxX, Math.max(around.minX, endX));
    const startY = wish.single ? cy : Math.min(around.maxY, Math.max(around.minY, endY));
    return { ...label, leader: [startX, startY, endX, endY] as const };
  });
}

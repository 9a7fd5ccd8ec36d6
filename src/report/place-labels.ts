import { boxesNear, commonBox } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import type { Box, Point } from '../geometry/types.js';

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
  readonly box: Box;
  /** It stands on the named thing itself, perhaps in a smaller size. */
  readonly inside?: boolean;
  readonly leader?: readonly [Point, Point];
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

const sizeOf = ({ minX, minY, maxX, maxY }: Box): [number, number] => [
  Math.max(0, maxX - minX),
  Math.max(0, maxY - minY),
];
const clamped = (value: number, low: number, high: number): number => Math.min(high, Math.max(low, value));

/** The label on the named thing itself, if it fits there. */
function onTop({ words, width, height, around }: LabelWish): Label | undefined {
  const [roomX, roomY] = sizeOf(around);
  const share = Math.min(1, roomX / width, roomY / (height * 1.1));
  if (share < SMALLEST_SHARE) return undefined;
  const [x, y] = [(around.minX + around.maxX - width * share) / 2, (around.minY + around.maxY - height * share) / 2];
  return { words, box: { minX: x, minY: y, maxX: x + width * share, maxY: y + height * share }, inside: true };
}

/** Where a label may stand around what it names, nearest first. */
function* spotsAround({ width, height, around }: LabelWish, frame: Box): Generator<{ box: Box; far: number }> {
  const [cx, cy] = [(around.minX + around.maxX) / 2, (around.minY + around.maxY) / 2];
  const [reachX, reachY] = sizeOf(around).map((size) => size / 2);
  for (const far of DISTANCES) {
    for (const [dx, dy] of DIRECTIONS) {
      const x = clamped(cx + dx * (reachX + width / 2 + far) - width / 2, frame.minX, frame.maxX - width);
      const y = clamped(cy + dy * (reachY + height / 2 + far) - height / 2, frame.minY, frame.maxY - height);
      yield { box: { minX: x, minY: y, maxX: x + width, maxY: y + height }, far };
    }
  }
}

/**
 * Places labels on what they name where they fit, else one after the other: each takes the nearest spot that covers
 * neither a label nor one of `obstacles`, or the spot that covers least of these. No label covers another: one that
 * finds no room is left out, for two on one spot can't be read either.
 *
 * @param frame - labels stay inside it
 */
export function placeLabels(wishes: readonly LabelWish[], obstacles: readonly Box[], frame: Box): Label[] {
  const things = boxIndex(obstacles, (box) => box);
  const taken: Box[] = [];
  const coveredBy = (box: Box): number =>
    things.near(box, 0).reduce((sum, i) => {
      const [width, height] = sizeOf(commonBox(box, obstacles[i]));
      return sum + width * height;
    }, 0);
  const beside = (wish: LabelWish): Label | undefined => {
    let best: { box: Box; cost: number; far: number } | undefined;
    for (const { box, far } of spotsAround(wish, frame)) {
      // Nothing that far away costs less.
      if (best && best.cost <= far) break;
      if (taken.some((other) => boxesNear(box, other, -1e-9))) continue;
      const cost = coveredBy(box) * 10 + far;
      if (!best || cost < best.cost) best = { box, cost, far };
    }
    if (!best) return undefined;
    const { words, around, single } = wish;
    const { box, far } = best;
    if (far <= DISTANCES[0]) return { words, box };
    const [cx, cy] = [(around.minX + around.maxX) / 2, (around.minY + around.maxY) / 2];
    const end: Point = [clamped(cx, box.minX, box.maxX), clamped(cy, box.minY, box.maxY)];
    const edge: Point = [clamped(end[0], around.minX, around.maxX), clamped(end[1], around.minY, around.maxY)];
    // From the middle of one thing, from the edge of several.
    return { words, box, leader: [single ? [cx, cy] : edge, end] };
  };
  return wishes.flatMap((wish) => {
    const label = (wish.single && onTop(wish)) || beside(wish);
    if (label) taken.push(label.box);
    return label ?? [];
  });
}

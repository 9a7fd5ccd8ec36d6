import { kept } from '../kept.js';
import { copyOf } from './copies.js';
import type { Box, Point, Region, Ring } from './types.js';

const EMPTY: Box = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };

/** Smallest axis-parallel box around a ring, mm. */
export function ringBounds(ring: Ring): Box {
  let { minX, minY, maxX, maxY } = EMPTY;
  for (let i = 0; i < ring.length; i += 1) {
    const x = ring[i][0];
    const y = ring[i][1];
    if (x < minX) minX = x;
    if (x > maxX) maxX = x;
    if (y < minY) minY = y;
    if (y > maxY) maxY = y;
  }
  return { minX, minY, maxX, maxY };
}

const boxes = new WeakMap<Region, Box>();

/** Box of a region that will be asked for again, worked out once. */
export function boxOf(region: Region): Box {
  return kept(boxes, region, () => ringBounds(region.outer));
}

/** Smallest axis-parallel box around a region, mm. */
export function regionBounds(region: Region): Box {
  const copy = copyOf(region);
  if (!copy) return ringBounds(region.outer);
  const { shape, dx, dy } = copy;
  const box = boxOf(shape);
  return { minX: box.minX + dx, minY: box.minY + dy, maxX: box.maxX + dx, maxY: box.maxY + dy };
}

/** Smallest box around all regions, mm; undefined when there are none. */
export function boundsOf(regions: readonly Region[]): Box | undefined {
  if (regions.length === 0) return undefined;
  let { minX, minY, maxX, maxY } = EMPTY;
  for (const region of regions) {
    const box = regionBounds(region);
    if (box.minX < minX) minX = box.minX;
    if (box.maxX > maxX) maxX = box.maxX;
    if (box.minY < minY) minY = box.minY;
    if (box.maxY > maxY) maxY = box.maxY;
  }
  return { minX, minY, maxX, maxY };
}

/** Smallest box around two boxes. */
export function joinBoxes(p: Box, q: Box): Box {
  return {
    minX: Math.min(p.minX, q.minX),
    minY: Math.min(p.minY, q.minY),
    maxX: Math.max(p.maxX, q.maxX),
    maxY: Math.max(p.maxY, q.maxY),
  };
}

/** Whether two boxes overlap or come nearer than `gapMm`. */
export function boxesNear(p: Box, q: Box, gapMm = 0): boolean {
  return p.minX <= q.maxX + gapMm && q.minX <= p.maxX + gapMm && p.minY <= q.maxY + gapMm && q.minY <= p.maxY + gapMm;
}

/** Distance between two boxes; 0 when they overlap. */
export function boxDistance(p: Box, q: Box): number {
  const dx = Math.max(0, p.minX - q.maxX, q.minX - p.maxX);
  const dy = Math.max(0, p.minY - q.maxY, q.minY - p.maxY);
  return dx === 0 ? dy : dy === 0 ? dx : Math.sqrt(dx * dx + dy * dy);
}

/** A box with so much more on every side; less where that is below 0. */
export function grownBox({ minX, minY, maxX, maxY }: Box, by: number): Box {
  return { minX: minX - by, minY: minY - by, maxX: maxX + by, maxY: maxY + by };
}

/** What two boxes have in common; its sides are the wrong way round where they lie apart. */
export function commonBox(p: Box, q: Box): Box {
  return {
    minX: Math.max(p.minX, q.minX),
    minY: Math.max(p.minY, q.minY),
    maxX: Math.min(p.maxX, q.maxX),
    maxY: Math.min(p.maxY, q.maxY),
  };
}

/** A box by the middle of it. */
export function boxAround([x, y]: Point, width: number, height: number): Box {
  return { minX: x - width / 2, minY: y - height / 2, maxX: x + width / 2, maxY: y + height / 2 };
}

/** Whether a box lies in another one, or reaches out of it by no more than `slackMm`. */
export function boxWithin(p: Box, q: Box, slackMm = 0): boolean {
  return (
    p.minX >= q.minX - slackMm && p.minY >= q.minY - slackMm && p.maxX <= q.maxX + slackMm && p.maxY <= q.maxY + slackMm
  );
}

/** The largest of any number of values; -Infinity of none. `Math.max(...values)` fails beyond some 100,000. */
export function largest(values: Iterable<number>): number {
  let most = -Infinity;
  for (const value of values) if (value > most) most = value;
  return most;
}

/** The smallest of any number of values; Infinity of none. */
export function smallest(values: Iterable<number>): number {
  let least = Infinity;
  for (const value of values) if (value < least) least = value;
  return least;
}

/** From where to where points reach along a direction. */
export function reachAlong(points: Ring, [ux, uy]: Point): readonly [least: number, most: number] {
  let [least, most] = [Infinity, -Infinity];
  for (const [x, y] of points) {
    const at = ux * x + uy * y;
    if (at < least) least = at;
    if (at > most) most = at;
  }
  return [least, most];
}

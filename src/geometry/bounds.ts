import type { Box, Region, Ring } from './types.js';

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

/** Smallest box around all regions, mm; undefined when there are none. */
export function boundsOf(regions: readonly Region[]): Box | undefined {
  if (regions.length === 0) return undefined;
  let { minX, minY, maxX, maxY } = EMPTY;
  for (const { outer } of regions) {
    for (let i = 0; i < outer.length; i += 1) {
      const x = outer[i][0];
      const y = outer[i][1];
      if (x < minX) minX = x;
      if (x > maxX) maxX = x;
      if (y < minY) minY = y;
      if (y > maxY) maxY = y;
    }
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

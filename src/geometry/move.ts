import type { Region, Ring } from './types.js';

/** Moves a region; direction of rings and tags stay. */
export function move<T extends Region>(region: T, dx: number, dy: number): T {
  return { ...region, outer: shift(region.outer, dx, dy), islands: region.islands.map((ring) => shift(ring, dx, dy)) };
}

/** Moves a ring. */
export function shift(ring: Ring, dx: number, dy: number): Ring {
  const moved: [number, number][] = [];
  for (let i = 0; i < ring.length; i += 1) moved.push([ring[i][0] + dx, ring[i][1] + dy]);
  return moved;
}

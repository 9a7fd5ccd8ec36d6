import { copyOf } from './copies.js';
import type { Region } from './types.js';

/** Regions that were looked through, or come from where they are made right. */
const clean = new WeakSet<Region>();
const shapeOf = (region: Region): Region => copyOf(region)?.shape ?? region;

/** Says of regions that they are sound, so that no door looks through them again: a board has 64,000 openings. */
export function markClean<T extends Region>(region: T): T {
  clean.add(shapeOf(region));
  return region;
}

export const isClean = (region: Region): boolean => clean.has(shapeOf(region));

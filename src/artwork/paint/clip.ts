import { subtractRegions, unionRegions, unionRings } from '../../geometry/boolean.js';
import { boxOf } from '../../geometry/bounds.js';
import type { Region, Ring } from '../../geometry/types.js';
import { withoutFilmSlivers, withoutSlivers, withoutStrays } from './slivers.js';

/** What the rings fill, without slivers of rounding. */
export function unionOfRings(rings: readonly Ring[], rule?: 'nonzero' | 'evenodd'): Region[] {
  return withoutFilmSlivers(withoutStrays(unionRings(rings, rule)));
}

/**
 * What of `regions` the cutters leave, without slivers of rounding.
 *
 * @param lost - takes the pieces that were left out for being small
 */
export function cut(regions: readonly Region[], cutters: readonly Region[], lost?: Region[]): Region[] {
  if (regions.length === 0 || cutters.length === 0) return [...regions];
  return withoutSlivers(subtractRegions(regions, gathered(cutters)), lost);
}

/** More than this many at once, all overlapping, would meet in too many points. */
const BATCH = 24;

/**
 * Union of many regions. Neighbours are united first and their unions then, so that a pad painted over and over
 * costs little more than one painted once.
 *
 * @throws {InputError} TOO_MUCH for a hatch of thousands of lines across thousands of others
 */
export function unite(regions: readonly Region[]): Region[] {
  return withoutFilmSlivers(unionRegions(gathered(regions)));
}

/** The same area in fewer regions: neighbours united, as long as that makes them fewer. */
function gathered(regions: readonly Region[]): readonly Region[] {
  if (regions.length <= BATCH) return regions;
  const sorted = neighboursFirst(regions);
  const next: Region[] = [];
  for (let i = 0; i < sorted.length; i += BATCH) {
    for (const region of unionRegions(sorted.slice(i, i + BATCH))) next.push(region);
  }
  if (next.length <= regions.length * 0.7) return gathered(next);
  return next;
}

/** Sorts into vertical strips, and within them upwards, so that each batch lies close together. */
function neighboursFirst(regions: readonly Region[]): Region[] {
  const items = regions.map((region) => {
    const box = boxOf(region);
    return { region, x: box.minX + box.maxX, y: box.minY + box.maxY };
  });
  items.sort((p, q) => p.x - q.x);
  const strip = Math.ceil(Math.sqrt(regions.length / BATCH)) * BATCH;
  const sorted: Region[] = [];
  for (let i = 0; i < items.length; i += strip) {
    const column = items.slice(i, i + strip).sort((p, q) => p.y - q.y);
    for (const item of column) sorted.push(item.region);
  }
  return sorted;
}

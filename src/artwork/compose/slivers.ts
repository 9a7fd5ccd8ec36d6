import { openingArea, openingPerimeter, ringArea, ringPerimeter } from '../../geometry/area.js';
import type { Region } from '../../geometry/types.js';

/**
 * A clear shape that ends where a dark one does leaves strips as wide as the rounding of their coordinates. A piece
 * smaller than a square of 10 um, or thinner on average than half a micrometre, was not meant to be an opening: no laser
 * cuts it, and no paste goes through.
 */
const LEAST_AREA_MM2 = 1e-4;
const LEAST_WIDTH_MM = 5e-4;

/** Leaves out slivers: pieces of openings, and film between shapes that were meant to meet. */
export function withoutSlivers(regions: readonly Region[]): Region[] {
  return withoutFilmSlivers(regions.filter(isNoSliver));
}

/** Leaves out only film thinner than the rounding of coordinates. Regions without any are the same objects. */
export function withoutFilmSlivers(regions: readonly Region[]): Region[] {
  return regions.map((region) => {
    const islands = region.islands.filter(
      (ring) => 2 * Math.abs(ringArea(ring)) >= LEAST_WIDTH_MM * ringPerimeter(ring),
    );
    return islands.length === region.islands.length ? region : { ...region, islands };
  });
}

function isNoSliver(region: Region): boolean {
  const area = openingArea(region);
  // A long rectangle has half its perimeter times its width for an area.
  return area >= LEAST_AREA_MM2 && 2 * area >= LEAST_WIDTH_MM * openingPerimeter(region);
}

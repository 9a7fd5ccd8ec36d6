import type { Warning } from '../../errors.js';
import { openingArea, openingPerimeter, ringArea, ringPerimeter } from '../../geometry/area.js';
import { subtractRegions, unionRegions, unionRings } from '../../geometry/boolean.js';
import { boxOf, ringBounds } from '../../geometry/bounds.js';
import type { Region, Ring } from '../../geometry/types.js';

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

/**
 * A clear shape that ends where a dark one does leaves strips as wide as the rounding of their coordinates: pieces
 * thinner on average than half a micrometre are nobody's intention and go without a word. A piece smaller than a square
 * of 10 um is left out too, since no laser cuts it and no paste goes through, but is told of.
 */
const LEAST_AREA_MM2 = 1e-4;
const LEAST_WIDTH_MM = 5e-4;

/**
 * Leaves out slivers: pieces of openings, and film between shapes that were meant to meet.
 *
 * @param lost - takes the pieces that were left out because they are small, not because they are thin
 */
function withoutSlivers(regions: readonly Region[], lost: Region[] = []): Region[] {
  const kept = regions.filter((region) => {
    if (isSliver(region)) return false;
    const area = openingArea(region);
    if (area < LEAST_AREA_MM2) lost.push(region);
    return area >= LEAST_AREA_MM2;
  });
  return withoutFilmSlivers(kept);
}

/** Whether a piece is thinner than coordinates are rounded: a long rectangle has half its perimeter times its width for an area. */
const isSliver = (region: Region): boolean => 2 * openingArea(region) < LEAST_WIDTH_MM * openingPerimeter(region);

/** Leaves out slivers beside something else: an outline whose ends overlap by a rounding goes around one, too. */
function withoutStrays(regions: readonly Region[]): readonly Region[] {
  const meant = regions.filter((region) => !isSliver(region));
  return meant.length > 0 ? meant : regions;
}

/** Leaves out only film thinner than the rounding of coordinates. Regions without any are the same objects. */
function withoutFilmSlivers(regions: readonly Region[]): Region[] {
  return regions.map((region) => {
    const islands = region.islands.filter(
      (ring) => 2 * Math.abs(ringArea(ring)) >= LEAST_WIDTH_MM * ringPerimeter(ring),
    );
    return islands.length === region.islands.length ? region : { ...region, islands };
  });
}

/** Says how many pieces were left out and where the largest lay; nothing when none were. */
export function lostPieces(lost: readonly Region[], file?: string): Warning[] {
  if (lost.length === 0) return [];
  const areas = lost.map(openingArea);
  const largest = areas.reduce((most, area, i) => (area > areas[most] ? i : most), 0);
  const { minX, minY, maxX, maxY } = ringBounds(lost[largest].outer);
  const at = [(minX + maxX) / 2, (minY + maxY) / 2].map((v) => Number(v.toFixed(3)));
  return [
    {
      code: 'PIECES_DROPPED',
      place: { file },
      message:
        `${lost.length} piece(s) smaller than a square of ${1000 * Math.sqrt(LEAST_AREA_MM2)} µm were left out, ` +
        `the largest of ${Math.round(areas[largest] * 1e6)} µm² at ${at[0]}, ${at[1]} mm.`,
      hint: 'They are what clear shapes leave of dark ones; no beam cuts them.',
    },
  ];
}

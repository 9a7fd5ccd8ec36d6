import { listIn } from '../list-in.js';
import { openingArea, openingCentroid, openingPerimeter } from './area.js';
import { copyAt } from './copies.js';
import type { Opening, Region } from './types.js';

/** Number of directions in which two shapes are compared; a sixteenth of a turn finds a corner that was cut off. */
const DIRECTIONS = 16;
const COSINE = Float64Array.from({ length: DIRECTIONS }, (_, i) => Math.cos((2 * Math.PI * i) / DIRECTIONS));
const SINE = Float64Array.from({ length: DIRECTIONS }, (_, i) => Math.sin((2 * Math.PI * i) / DIRECTIONS));

interface Outline {
  readonly region: Region;
  readonly centre: readonly [number, number];
  readonly area: number;
  readonly perimeter: number;
  /** How far the shape reaches from its centre in each direction. */
  readonly reach: Float64Array;
}

/**
 * Lets openings that are alike share one shape, each at its own place: equal pads traced from an image differ by a few
 * hundredths of a pixel, and would be rounded to different dots one by one.
 *
 * @param openings - mm; those with islands are left as they are
 * @param toleranceMm - shapes that reach equally far within this, in all directions, and agree in area are alike
 * @returns the same number of openings in the same order, with the same centres
 */
export function shareShapes(openings: readonly Opening[], toleranceMm: number): Opening[] {
  const classes = new Map<string, Outline[]>();
  return openings.map((opening) => {
    if (opening.islands.length > 0) return opening;
    const outline = outlineOf(opening);
    const known = findAlike(classes, outline, toleranceMm);
    if (!known) {
      const key = keyOf(outline, toleranceMm, 0, 0);
      listIn(classes, key).push(outline);
      return opening;
    }
    return copyAt(known.region, outline.centre[0] - known.centre[0], outline.centre[1] - known.centre[1], opening.tag);
  });
}

function outlineOf(region: Region): Outline {
  const centre = openingCentroid(region);
  const cx = centre[0];
  const cy = centre[1];
  const ring = region.outer;
  const reach = new Float64Array(DIRECTIONS);
  const half = DIRECTIONS / 2;
  for (let i = 0; i < half; i += 1) {
    const cosine = COSINE[i];
    const sine = SINE[i];
    let least = Infinity;
    let most = -Infinity;
    for (let k = 0; k < ring.length; k += 1) {
      const along = cosine * (ring[k][0] - cx) + sine * (ring[k][1] - cy);
      if (along > most) most = along;
      if (along < least) least = along;
    }
    reach[i] = most;
    reach[i + half] = -least;
  }
  return { region, centre, area: openingArea(region), perimeter: openingPerimeter(region), reach };
}

/** Bucket by width and height; a shape near a border is looked for in the buckets beside it too. */
function keyOf({ reach }: Outline, toleranceMm: number, dx: number, dy: number): string {
  const step = 4 * toleranceMm;
  return `${Math.floor((reach[0] + reach[8]) / step) + dx},${Math.floor((reach[4] + reach[12]) / step) + dy}`;
}

function findAlike(
  classes: ReadonlyMap<string, Outline[]>,
  outline: Outline,
  toleranceMm: number,
): Outline | undefined {
  for (let dx = -1; dx <= 1; dx += 1) {
    for (let dy = -1; dy <= 1; dy += 1) {
      const found = classes
        .get(keyOf(outline, toleranceMm, dx, dy))
        ?.find((other) => alike(outline, other, toleranceMm));
      if (found) return found;
    }
  }
  return undefined;
}

function alike(p: Outline, q: Outline, toleranceMm: number): boolean {
  if (Math.abs(p.area - q.area) > toleranceMm * p.perimeter) return false;
  if (Math.abs(p.perimeter - q.perimeter) > 8 * toleranceMm) return false;
  for (let i = 0; i < DIRECTIONS; i += 1) if (Math.abs(p.reach[i] - q.reach[i]) > toleranceMm) return false;
  return true;
}

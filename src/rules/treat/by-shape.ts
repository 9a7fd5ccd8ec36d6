import { copyAt, firstCorner, oncePerShape } from '../../geometry/copies.js';
import type { Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { shapeKey } from '../measure.js';

/**
 * Does the same work on equal shapes once: a board has thousands of openings of a few dozen shapes.
 *
 * @param work - must depend on the region's shape and the number alone, not on its place
 * @returns the same function; results for further places are moved copies, right to 10 nm
 */
export function byShape(
  work: (region: Region, value: number) => Region[],
): (region: Region, value: number) => Region[] {
  const known = new Map<string, { readonly at: Point; readonly regions: Region[] }>();
  const keyOf = oncePerShape(shapeKey);
  return (region, value) => {
    const at = firstCorner(region);
    const first = kept(known, `${value}:${keyOf(region)}`, () => ({ at, regions: work(region, value) }));
    if (first.at === at) return first.regions;
    return first.regions.map((piece) => copyAt(piece, at[0] - first.at[0], at[1] - first.at[1]));
  };
}

/** The same for work that gives a number. */
export function numberByShape(
  work: (region: Region, value: number) => number,
): (region: Region, value: number) => number {
  const known = new Map<string, number>();
  const keyOf = oncePerShape(shapeKey);
  return (region, value) => {
    return kept(known, `${value}:${keyOf(region)}`, () => work(region, value));
  };
}

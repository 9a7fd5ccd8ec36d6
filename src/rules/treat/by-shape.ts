import { copyAt, firstCorner, oncePerShape } from '../../geometry/copies.js';
import type { Point, Region } from '../../geometry/types.js';
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
    const key = `${value}:${keyOf(region)}`;
    const at = firstCorner(region);
    const memory = known.get(key);
    if (!memory) {
      const regions = work(region, value);
      known.set(key, { at, regions });
      return regions;
    }
    return memory.regions.map((piece) => copyAt(piece, at[0] - memory.at[0], at[1] - memory.at[1]));
  };
}

/** The same for work that gives a number. */
export function numberByShape(
  work: (region: Region, value: number) => number,
): (region: Region, value: number) => number {
  const known = new Map<string, number>();
  const keyOf = oncePerShape(shapeKey);
  return (region, value) => {
    const key = `${value}:${keyOf(region)}`;
    const result = known.get(key) ?? work(region, value);
    known.set(key, result);
    return result;
  };
}

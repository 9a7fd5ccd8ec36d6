import { Clipper, ClipType, FillRule, type Paths64 } from 'clipper2-ts';
import { joinBoxes, ringBounds } from './bounds.js';
import { payForClip } from './clip-work.js';
import { decimalGridFor, type Grid, toDecimalPath } from './grid.js';
import { regionsFromPaths } from './nesting.js';
import type { Region, Ring } from './types.js';

function ringsOf(regions: readonly Region[]): Ring[] {
  return regions.flatMap((region) => [region.outer, ...region.islands]);
}

function gridOf(rings: readonly Ring[]): Grid {
  return decimalGridFor(rings.map(ringBounds).reduce(joinBoxes));
}

function run(type: ClipType, subject: readonly Ring[], clip: readonly Ring[], fill: FillRule): Region[] {
  if (subject.length === 0) return [];
  const grid = gridOf([...subject, ...clip]);
  const paths = (rings: readonly Ring[]): Paths64 => rings.map((ring) => toDecimalPath(grid, ring));
  const [first, second] = [paths(subject), paths(clip)];
  payForClip([...first, ...second]);
  const found = Clipper.booleanOp(type, first, second.length > 0 ? second : null, fill);
  return regionsFromPaths(grid, found);
}

/**
 * Union of rings under a fill rule; the result's outer rings run counter-clockwise and its islands clockwise.
 * Regions that only touch at a point stay apart. Call it once per touching group: cost grows faster than linearly.
 *
 * @throws {InputError} TOO_MUCH within the limits of a `WorkBudget`; so do the others
 */
export function unionRings(rings: readonly Ring[], fill: 'nonzero' | 'evenodd' = 'nonzero'): Region[] {
  return run(ClipType.Union, rings, [], fill === 'nonzero' ? FillRule.NonZero : FillRule.EvenOdd);
}

/** Union of regions that may overlap. */
export function unionRegions(regions: readonly Region[]): Region[] {
  return run(ClipType.Union, ringsOf(regions), [], FillRule.NonZero);
}

/** What of `regions` is not covered by `cutters`. */
export function subtractRegions(regions: readonly Region[], cutters: readonly Region[]): Region[] {
  return run(ClipType.Difference, ringsOf(regions), ringsOf(cutters), FillRule.NonZero);
}

/** What `regions` and `others` share. */
export function intersectRegions(regions: readonly Region[], others: readonly Region[]): Region[] {
  if (others.length === 0) return [];
  return run(ClipType.Intersection, ringsOf(regions), ringsOf(others), FillRule.NonZero);
}

import { mapOpening } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Affine, Box, Region } from '../../geometry/types.js';

/** An image without a place: worked out once and then put wherever it is needed. Its regions do not overlap. */
export interface Shape {
  readonly regions: readonly Region[];
  /** Box of each region, same order. */
  readonly boxes: readonly Box[];
  readonly pointCount: number;
}

export function makeShape(regions: readonly Region[]): Shape {
  return {
    regions,
    boxes: regions.map((region) => boundsOf([region]) as Box),
    pointCount: regions.reduce((n, r) => n + r.islands.reduce((m, ring) => m + ring.length, r.outer.length), 0),
  };
}

export const EMPTY_SHAPE: Shape = makeShape([]);

/** The shape under a linear map (its shift is applied too). */
export function mapShape(map: Affine, shape: Shape): Shape {
  return makeShape(shape.regions.map((region) => mapOpening(map, region)));
}

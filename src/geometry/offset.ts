import { ClipperOffset, EndType, JoinType, type Path64, type Paths64 } from 'clipper2-ts';
import { regionsFromPaths } from './boolean.js';
import { grownBox, joinBoxes, ringBounds } from './bounds.js';
import { gridFor, payForMove, toPath } from './clip-work.js';
import type { Box, Region, Ring } from './types.js';

/** How far the polygon that stands for an arc may lie inside the arc, mm. 0.05 um is far below any laser. */
const ARC_TOLERANCE_MM = 5e-5;

/** A kerf of zero across one axis is taken as this, mm, so that the ellipse can be scaled to a circle. */
const SMALLEST_KERF_MM = 1e-4;

/**
 * Grows (`sign` 1) or shrinks (`sign` -1) a region by an ellipse with full widths `widthX` and `widthY`: the
 * Minkowski sum T ⊕ E or difference T ⊖ E. Space is scaled so that the ellipse becomes a circle, offset with round
 * joins, and scaled back. One connected region a call: cost grows faster than linearly with the number of rings.
 *
 * @param region - mm, outer ring counter-clockwise, islands clockwise
 * @param widthXMm - full width of the ellipse across X, mm, >= 0
 * @param widthYMm - full width of the ellipse across Y, mm, >= 0
 * @param arcToleranceMm - largest distance between an arc and the polygon that stands for it, mm
 * @returns none, one or several regions; none when nothing is left
 */
export function offsetByEllipse(
  region: Region,
  widthXMm: number,
  widthYMm: number,
  sign: 1 | -1,
  arcToleranceMm = ARC_TOLERANCE_MM,
): Region[] {
  if (widthXMm <= 0 && widthYMm <= 0) return [region];
  const wx = Math.max(widthXMm, SMALLEST_KERF_MM);
  const wy = Math.max(widthYMm, SMALLEST_KERF_MM);
  // Scale up the axis with the smaller width, so that no detail is lost on the integer grid.
  const sx = wx >= wy ? 1 : wy / wx;
  const sy = wy >= wx ? 1 : wx / wy;
  const radius = Math.max(wx, wy) / 2;
  const stretch = (ring: Ring): Ring => ring.map(([x, y]): [number, number] => [x * sx, y * sy]);
  const rings = [region.outer, ...region.islands].map(stretch);
  const bounds = rings.map(ringBounds).reduce(joinBoxes);
  const roomy: Box = grownBox(bounds, radius);
  const grid = gridFor(roomy);
  const found = inflate(
    rings.map((ring) => toPath(grid, ring)),
    {
      delta: sign * radius * grid.scale,
      join: JoinType.Round,
      miterLimit: 2,
      arcTolerance: arcToleranceMm * grid.scale,
    },
  );
  const back = (ring: Ring): Ring => ring.map(([x, y]): [number, number] => [x / sx, y / sy]);
  return regionsFromPaths(grid, found).map(({ outer, islands }) => ({
    outer: back(outer),
    islands: islands.map(back),
  }));
}

/** How walls are moved. Lengths are grid steps. */
export interface Inflation {
  /** Outwards when above zero. */
  readonly delta: number;
  readonly join: JoinType;
  readonly miterLimit: number;
  /** Largest distance between an arc and the polygon that stands for it; 0 where there are none. */
  readonly arcTolerance: number;
}

/**
 * Moves the walls of one connected region.
 *
 * @param rings - the outer ring, counter-clockwise, and the islands, clockwise
 * @returns rings that do not cross, outer ones counter-clockwise
 */
export function inflate(rings: readonly Path64[], { delta, join, miterLimit, arcTolerance }: Inflation): Paths64 {
  const steps = arcTolerance > 0 ? Math.PI / Math.acos(1 - Math.min(1, arcTolerance / Math.abs(delta))) : 2;
  payForMove(rings, delta, steps);
  const offset = new ClipperOffset(miterLimit, arcTolerance);
  offset.addPaths([...rings], join, EndType.Polygon);
  const found: Paths64 = [];
  offset.execute(delta, found);
  return found;
}

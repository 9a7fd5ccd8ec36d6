import { ClipperOffset, EndType, JoinType, type Paths64 } from 'clipper2-ts';
import { regionsFromPaths } from './boolean.js';
import { grownBox, joinBoxes, ringBounds } from './bounds.js';
import { gridFor, payForMove, toPath } from './clip-work.js';
import type { Region, Ring } from './types.js';

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
  const round = { join: JoinType.Round, miterLimit: 2, arcToleranceMm, roomMm: radius };
  const back = (ring: Ring): Ring => ring.map(([x, y]): [number, number] => [x / sx, y / sy]);
  return moveRings([region.outer, ...region.islands].map(stretch), sign * radius, round).map(({ outer, islands }) => ({
    outer: back(outer),
    islands: islands.map(back),
  }));
}

/** How walls are moved. */
interface Corners {
  readonly join: JoinType;
  readonly miterLimit: number;
  /** Largest distance between an arc and the polygon that stands for it, mm; 0 where there are none. */
  readonly arcToleranceMm: number;
  /** No wall comes farther out than this, mm. */
  readonly roomMm: number;
}

/**
 * Moves the walls of one connected region.
 *
 * @param rings - the outer ring, counter-clockwise, and the islands, clockwise, mm
 * @param deltaMm - outwards when above zero
 */
export function moveRings(
  rings: readonly Ring[],
  deltaMm: number,
  { join, miterLimit, arcToleranceMm, roomMm }: Corners,
): Region[] {
  const grid = gridFor(grownBox(rings.map(ringBounds).reduce(joinBoxes), roomMm));
  const paths = rings.map((ring) => toPath(grid, ring));
  const [delta, arcTolerance] = [deltaMm * grid.scale, arcToleranceMm * grid.scale];
  const steps = arcTolerance > 0 ? Math.PI / Math.acos(1 - Math.min(1, arcTolerance / Math.abs(delta))) : 2;
  payForMove(paths, delta, steps);
  const offset = new ClipperOffset(miterLimit, arcTolerance);
  offset.addPaths(paths, join, EndType.Polygon);
  const found: Paths64 = [];
  offset.execute(delta, found);
  return regionsFromPaths(grid, found);
}

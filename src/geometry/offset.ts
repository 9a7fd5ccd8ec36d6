import { Clipper, ClipperOffset, ClipType, EndType, FillRule, JoinType, type Path64, type Paths64 } from 'clipper2-ts';
import { regionsFromPaths } from './boolean.js';
import { grownBox, joinBoxes, largest, ringBounds, smallest } from './bounds.js';
import { gridFor, payForClip, payForMove, toPath } from './clip-work.js';
import { erodeByEdges, isConvex } from './convex.js';
import { DisjointSets } from './disjoint-sets.js';
import type { Box, PerAxis, Point, Region, Ring } from './types.js';

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
      reach: 1,
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
  /** How far from where it was a corner may come to lie, in multiples of delta. */
  readonly reach: number;
}

/** With more rings than this in one group, their union is made piece by piece. */
const MANY_RINGS = 64;
/** Slack for the rounding of corners to the grid. */
const ROUNDING = 4;

/**
 * Moves the walls of one connected region. Rings that can't meet are moved one by one: a sweep over all at once looks
 * at every wall on its way across. When the region grows no two rings ever meet; when it shrinks, its islands grow
 * together only where they stand near.
 *
 * @param rings - the outer ring, counter-clockwise, and the islands, clockwise
 * @returns rings that do not cross, outer ones counter-clockwise
 */
export function inflate(rings: readonly Path64[], how: Inflation): Paths64 {
  const islands = rings.slice(1);
  if (islands.length === 0 || !islands.every((ring) => Clipper.area(ring) < 0)) return moved(rings, how.delta, how);
  // Alone, an island passes for an opening that runs the other way round: what grows the region shrinks it.
  if (how.delta > 0) {
    const many = islands.length > MANY_RINGS;
    return [
      ...moved(rings.slice(0, 1), how.delta, how),
      ...islands.flatMap(
        (ring) => (many ? shrunkConvex(ring, how.delta) : undefined) ?? moved([ring], -how.delta, how),
      ),
    ];
  }
  return nearRings(rings, -2 * how.delta * how.reach + ROUNDING).flatMap((group) => {
    const members = group.map((i) => rings[i]);
    if (group[0] > 0) {
      return members.length > MANY_RINGS ? grown(members, how).map(reversed) : moved(members, -how.delta, how);
    }
    if (members.length <= MANY_RINGS) return moved(members, how.delta, how);
    const film = grown(members.slice(1), how);
    const outer = moved(members.slice(0, 1), how.delta, how);
    payForClip([...outer, ...film]);
    return Clipper.booleanOp(ClipType.Difference, outer, film, FillRule.NonZero);
  });
}

function moved(rings: readonly Path64[], delta: number, how: Inflation): Paths64 {
  const { join, miterLimit, arcTolerance, delta: regionDelta } = how;
  const steps = arcTolerance > 0 ? Math.PI / Math.acos(1 - Math.min(1, arcTolerance / Math.abs(delta))) : 2;
  payForMove(rings, regionDelta, steps);
  const offset = new ClipperOffset(miterLimit, arcTolerance);
  offset.addPaths([...rings], join, EndType.Polygon);
  const found: Paths64 = [];
  offset.execute(delta, found);
  return found;
}

/** A convex island drawn in edge by edge, which takes no sweep; undefined where it takes more than that. */
function shrunkConvex(island: Path64, delta: number): Paths64 | undefined {
  const ring = island.toReversed().map(({ x, y }): Point => [x, y]);
  const left = isConvex(ring) ? erodeByEdges(ring, 2 * delta, 2 * delta) : undefined;
  return left && [left.map(([x, y]) => ({ x: Math.round(x), y: Math.round(y) })).toReversed()];
}

/** Islands grown together, as rings that run counter-clockwise: by halves of the area, so that each sweep is short. */
function grown(islands: readonly Path64[], how: Inflation): Paths64 {
  if (islands.length <= MANY_RINGS) return moved(islands, -how.delta, how).map(reversed);
  const middles = islands.map(middleOf);
  const spread = (axis: 'x' | 'y'): number =>
    largest(middles.map((at) => at[axis])) - smallest(middles.map((at) => at[axis]));
  const axis = spread('x') > spread('y') ? 'x' : 'y';
  const order = islands.map((_, i) => i).sort((p, q) => middles[p][axis] - middles[q][axis]);
  const half = order.length >> 1;
  const [first, second] = [order.slice(0, half), order.slice(half)].map((part) =>
    grown(
      part.map((i) => islands[i]),
      how,
    ),
  );
  payForClip([...first, ...second]);
  return Clipper.booleanOp(ClipType.Union, first, second, FillRule.NonZero);
}

function middleOf(ring: Path64): PerAxis {
  const { left, right, top, bottom } = Clipper.getBounds(ring);
  return { x: (left + right) / 2, y: (top + bottom) / 2 };
}

const reversed = (ring: Path64): Path64 => ring.toReversed();

/** Cells of the grid that walls are put into; more would cost more than they spare. */
const MOST_CELLS = 300_000;
/** Cell coordinates stay below this, so that two of them make one key. */
const KEY = 2 ** 24;

/**
 * Parts rings into groups: rings whose walls come nearer to each other than a gap are in one group, those of two groups
 * never do. Rings that lie within each other with room between are apart.
 *
 * @param gap - in the same steps as the rings, > 0
 * @returns positions, each group ascending, groups by their first member
 */
export function nearRings(rings: readonly Path64[], gap: number): number[][] {
  const sets = new DisjointSets(rings.length);
  const walls = wallsIn(rings);
  const cell = cellFor(walls, gap);
  const cells = new Map<number, number[]>();
  forEachCell(walls, cell, gap / 2, (key, wall) => {
    const list = cells.get(key);
    if (!list) {
      cells.set(key, [wall]);
      return;
    }
    for (const other of list) {
      const [p, q] = [walls.ring[other], walls.ring[wall]];
      if (!sets.areTogether(p, q) && wallsWithin(walls, other, wall, gap)) sets.join(p, q);
    }
    list.push(wall);
  });
  return sets.groups();
}

interface FlatWalls {
  readonly xy: Float64Array;
  readonly ring: Int32Array;
  readonly length: number;
}

function wallsIn(rings: readonly Path64[]): FlatWalls {
  const count = rings.reduce((sum, ring) => sum + ring.length, 0);
  const xy = new Float64Array(4 * count);
  const ring = new Int32Array(count);
  let at = 0;
  let length = 0;
  rings.forEach((path, r) => {
    let last = path[path.length - 1];
    for (const point of path) {
      xy.set([last.x, last.y, point.x, point.y], 4 * at);
      ring[at] = r;
      length += Math.abs(point.x - last.x) + Math.abs(point.y - last.y);
      at += 1;
      last = point;
    }
  });
  return { xy, ring, length };
}

/** Two gaps wide, or wider where the walls are so long that they would lie in too many. */
function cellFor({ ring, length }: FlatWalls, gap: number): number {
  return Math.max(2 * gap, length / ring.length / 4, length / MOST_CELLS);
}

/** Visits every cell that comes nearer to a wall than `room`, and perhaps some beside it; each once a wall. */
function forEachCell(
  { xy, ring }: FlatWalls,
  cell: number,
  room: number,
  visit: (key: number, wall: number) => void,
): void {
  for (let wall = 0; wall < ring.length; wall += 1) {
    const [ax, ay, bx, by] = xy.subarray(4 * wall, 4 * wall + 4);
    const [left, right] = ax < bx ? [ax, bx] : [bx, ax];
    const slope = bx === ax ? 0 : (by - ay) / (bx - ax);
    const last = Math.floor((right + room) / cell);
    for (let column = Math.floor((left - room) / cell); column <= last; column += 1) {
      // The stretch of the wall that can come near to this column.
      const from = Math.max(left, column * cell - room);
      const to = Math.min(right, (column + 1) * cell + room);
      const y0 = bx === ax ? ay : ay + (from - ax) * slope;
      const y1 = bx === ax ? by : ay + (to - ax) * slope;
      const lastRow = Math.floor((Math.max(y0, y1) + room) / cell);
      for (let row = Math.floor((Math.min(y0, y1) - room) / cell); row <= lastRow; row += 1) {
        visit((column + KEY / 2) * KEY + row + KEY / 2, wall);
      }
    }
  }
}

function wallsWithin({ xy }: FlatWalls, p: number, q: number, gap: number): boolean {
  const [a, b] = [4 * p, 4 * q];
  const dx = Math.max(
    0,
    Math.min(xy[a], xy[a + 2]) - Math.max(xy[b], xy[b + 2]),
    Math.min(xy[b], xy[b + 2]) - Math.max(xy[a], xy[a + 2]),
  );
  if (dx >= gap) return false;
  const dy = Math.max(
    0,
    Math.min(xy[a + 1], xy[a + 3]) - Math.max(xy[b + 1], xy[b + 3]),
    Math.min(xy[b + 1], xy[b + 3]) - Math.max(xy[a + 1], xy[a + 3]),
  );
  if (dx * dx + dy * dy >= gap * gap) return false;
  return (
    pointWithin(xy, a, b, gap) ||
    pointWithin(xy, a + 2, b, gap) ||
    pointWithin(xy, b, a, gap) ||
    pointWithin(xy, b + 2, a, gap)
  );
}

/** Whether the point at `point` comes nearer to the wall at `wall` than the gap. Rings never cross, so ends suffice. */
function pointWithin(xy: Float64Array, point: number, wall: number, gap: number): boolean {
  const dx = xy[wall + 2] - xy[wall];
  const dy = xy[wall + 3] - xy[wall + 1];
  const px = xy[point] - xy[wall];
  const py = xy[point + 1] - xy[wall + 1];
  const length2 = dx * dx + dy * dy;
  const t = length2 > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy) / length2)) : 0;
  const fx = px - t * dx;
  const fy = py - t * dy;
  return fx * fx + fy * fy < gap * gap;
}

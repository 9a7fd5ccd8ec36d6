import { translation } from './affine.js';
import { boxDistance, regionBounds } from './bounds.js';
import { boxIndex } from './box-index.js';
import { copyOf, firstCorner } from './copies.js';
import type { Affine, Box, Point, Region, Ring } from './types.js';
import { budgetInForce } from './work-budget.js';

/** All walls of a region as flat numbers, for loops over many pairs: x0, y0, x1, y1 per wall. */
export interface Walls {
  readonly xy: Float64Array;
  readonly box: Box;
}

/** Where two regions come nearest. */
export interface Nearest {
  /** 0 when they touch or overlap. */
  readonly distanceMm: number;
  readonly from: Point;
  readonly to: Point;
}

/** Regions are never changed once made, so their walls are laid out once. */
const known = new WeakMap<Region, Walls>();

/** Of copies with no more walls these are sooner laid out again than kept: a board has thousands of them. */
const FEW_WALLS = 100;

/** A region's walls, islands included. */
export function wallsOf(region: Region): Walls {
  const before = known.get(region);
  if (before) return before;
  const walls = layOut(region);
  if (!copyOf(region) || walls.xy.length > 4 * FEW_WALLS) known.set(region, walls);
  return walls;
}

/** Of a copy straight from its shape: its own points need not be laid out for that. */
function layOut(region: Region): Walls {
  const { shape, dx, dy } = copyOf(region) ?? { shape: region, dx: 0, dy: 0 };
  return { xy: flatWalls([shape.outer, ...shape.islands], translation(dx, dy)), box: regionBounds(region) };
}

/** Walls of rings, x0, y0, x1, y1 each, all points mapped; those of a ring one after the other. */
export function flatWalls(rings: readonly Ring[], { a, b, c, d, e, f }: Affine): Float64Array {
  const xy = new Float64Array(rings.reduce((sum, ring) => sum + ring.length * 4, 0));
  let at = 0;
  for (const ring of rings) {
    const last = ring[ring.length - 1];
    let px = a * last[0] + b * last[1] + e;
    let py = c * last[0] + d * last[1] + f;
    for (const point of ring) {
      const x = a * point[0] + b * point[1] + e;
      const y = c * point[0] + d * point[1] + f;
      xy[at] = px;
      xy[at + 1] = py;
      xy[at + 2] = x;
      xy[at + 3] = y;
      at += 4;
      px = x;
      py = y;
    }
  }
  return xy;
}

/** Whether a point lies inside a ring (even-odd). */
export function insideRing([x, y]: Point, ring: Ring): boolean {
  let inside = false;
  let [px, py] = ring[ring.length - 1];
  for (const [qx, qy] of ring) {
    if (qy > y !== py > y && x < ((px - qx) * (y - qy)) / (py - qy) + qx) inside = !inside;
    px = qx;
    py = qy;
  }
  return inside;
}

/** Whether a point lies in a region, not on one of its islands. */
export function insideRegion(point: Point, region: Region): boolean {
  return insideRing(point, region.outer) && !region.islands.some((island) => insideRing(point, island));
}

/** Squared distance from (x, y) to the wall that starts at `at`. */
function squaredToWall(x: number, y: number, xy: Float64Array, at: number): number {
  const t = placeOnWall(x, y, xy, at);
  const fx = x - xy[at] - t * (xy[at + 2] - xy[at]);
  const fy = y - xy[at + 1] - t * (xy[at + 3] - xy[at + 1]);
  return fx * fx + fy * fy;
}

/** Where on a wall, 0 to 1, the point nearest to (x, y) lies. */
function placeOnWall(x: number, y: number, xy: Float64Array, at: number): number {
  const dx = xy[at + 2] - xy[at];
  const dy = xy[at + 3] - xy[at + 1];
  const length2 = dx * dx + dy * dy;
  const t = length2 > 0 ? ((x - xy[at]) * dx + (y - xy[at + 1]) * dy) / length2 : 0;
  return Math.max(0, Math.min(t, 1));
}

/** Distance from a point to the nearest wall, mm. */
export function distanceToWalls([x, y]: Point, walls: Walls): number {
  let best = Infinity;
  for (let at = 0; at < walls.xy.length; at += 4) {
    const d = squaredToWall(x, y, walls.xy, at);
    if (d < best) best = d;
  }
  return Math.sqrt(best);
}

/** Those of the points in a box that lie further than a limit from all walls. */
export function fartherThan(limitMm: number, box: Box, points: Ring, walls: readonly Walls[]): Ring {
  const near = walls.map(({ xy }, i) => ({ xy, starts: wallsNear(walls[i], box, limitMm) }));
  budgetInForce()?.spend(
    near.reduce(
      (sum, { xy, starts }) => sum + WALL_COST * (xy.length / 4) + PAIR_COST * starts.length * points.length,
      0,
    ),
  );
  const limit2 = limitMm * limitMm;
  return points.filter(([x, y]) =>
    near.every(({ xy, starts }) => starts.every((at) => squaredToWall(x, y, xy, at) > limit2)),
  );
}

/** Starts of the walls whose own boxes come nearer to `box` than `limit`. */
function wallsNear(walls: Walls, box: Box, limit: number): number[] {
  const { xy } = walls;
  const near: number[] = [];
  for (let at = 0; at < xy.length; at += 4) {
    const minX = Math.min(xy[at], xy[at + 2]);
    const maxX = Math.max(xy[at], xy[at + 2]);
    const minY = Math.min(xy[at + 1], xy[at + 3]);
    const maxY = Math.max(xy[at + 1], xy[at + 3]);
    const dx = Math.max(0, minX - box.maxX, box.minX - maxX);
    const dy = Math.max(0, minY - box.maxY, box.minY - maxY);
    if (dx * dx + dy * dy <= limit * limit) near.push(at);
  }
  return near;
}

function boxOfWalls(walls: Walls, starts: readonly number[]): Box {
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const at of starts) {
    for (const k of [at, at + 2]) {
      minX = Math.min(minX, walls.xy[k]);
      maxX = Math.max(maxX, walls.xy[k]);
      minY = Math.min(minY, walls.xy[k + 1]);
      maxY = Math.max(maxY, walls.xy[k + 1]);
    }
  }
  return { minX, minY, maxX, maxY };
}

/** A distance that is surely not smaller than the true one: from the corner of p nearest to q's box to q's corners. */
function upperBound(p: Walls, q: Walls): number {
  const { box } = q;
  let [cx, cy, nearest] = [p.xy[0], p.xy[1], Infinity];
  for (let at = 0; at < p.xy.length; at += 4) {
    const dx = Math.max(0, p.xy[at] - box.maxX, box.minX - p.xy[at]);
    const dy = Math.max(0, p.xy[at + 1] - box.maxY, box.minY - p.xy[at + 1]);
    const d = dx * dx + dy * dy;
    if (d < nearest) [cx, cy, nearest] = [p.xy[at], p.xy[at + 1], d];
  }
  let best = Infinity;
  for (let at = 0; at < q.xy.length; at += 4) best = Math.min(best, squaredToWall(cx, cy, q.xy, at));
  return Math.sqrt(best);
}

/** With more pairs of walls than this, those near each other are looked up. */
const MANY_PAIRS = 4096;
/** What looks at a pair of walls and at all walls of two regions cost, in the units of `WorkBudget`. */
const PAIR_COST = 0.3;
const WALL_COST = 0.3;

/**
 * The smallest distance between the walls of two regions, exact for polygons.
 *
 * @param limitMm - distances above it are of no interest
 * @returns undefined when the distance is above the limit; 0 when walls cross. A region that lies wholly inside another
 * has the distance to the walls around it: {@link webBetween} tells that case.
 */
export function nearestBetween(p: Walls, q: Walls, limitMm = Infinity): Nearest | undefined {
  if (boxDistance(p.box, q.box) > limitMm) return undefined;
  const budget = budgetInForce();
  budget?.spend((WALL_COST * (p.xy.length + q.xy.length)) / 4);
  const limit = Math.min(limitMm, upperBound(p, q)) * (1 + 1e-9) + 1e-12;
  const pNear = wallsNear(p, q.box, limit);
  const qNear = wallsNear(q, boxOfWalls(p, pNear), limit);
  const pLeft = qNear.length > 0 ? wallsNear(p, boxOfWalls(q, qNear), limit) : [];
  let best2 = limit * limit;
  let best: Nearest | undefined;
  const take = (x: number, y: number, xy: Float64Array, at: number, turned: boolean): void => {
    const d2 = squaredToWall(x, y, xy, at);
    if (d2 > best2 || (best && d2 === best2)) return;
    best2 = d2;
    const t = placeOnWall(x, y, xy, at);
    const foot: Point = [xy[at] + t * (xy[at + 2] - xy[at]), xy[at + 1] + t * (xy[at + 3] - xy[at + 1])];
    const [from, to] = turned ? [foot, [x, y] as const] : [[x, y] as const, foot];
    best = { distanceMm: Math.sqrt(d2), from, to };
  };
  const index = pLeft.length * qNear.length > MANY_PAIRS ? boxIndex(qNear, (b) => boxOfWalls(q, [b])) : undefined;
  for (const a of pLeft) {
    const near = index ? index.near(boxOfWalls(p, [a]), Math.sqrt(best2) * (1 + 1e-9)).map((i) => qNear[i]) : qNear;
    budget?.spend(PAIR_COST * near.length);
    for (const b of near) {
      if (wallBoxesApart2(p.xy, a, q.xy, b) > best2) continue;
      if (wallsCross(p.xy, a, q.xy, b)) {
        const point: Point = [p.xy[a], p.xy[a + 1]];
        return { distanceMm: 0, from: point, to: point };
      }
      // Every corner ends one wall and starts the next: ends alone cover all corners, but a wall may have been left out.
      take(p.xy[a], p.xy[a + 1], q.xy, b, false);
      take(p.xy[a + 2], p.xy[a + 3], q.xy, b, false);
      take(q.xy[b], q.xy[b + 1], p.xy, a, true);
      take(q.xy[b + 2], q.xy[b + 3], p.xy, a, true);
    }
  }
  return best;
}

/** The film between two openings; 0 where one lies in the other, too: their walls may be apart, and yet no film stands there. */
export function webBetween(p: Region, q: Region, limitMm = Infinity): Nearest | undefined {
  const [walls, others] = [wallsOf(p), wallsOf(q)];
  const nearest = nearestBetween(walls, others, limitMm);
  if (boxDistance(walls.box, others.box) > 0) return nearest;
  const [from, other] = [firstCorner(p), firstCorner(q)];
  return insideRegion(from, q) || insideRegion(other, p) ? { distanceMm: 0, from, to: from } : nearest;
}

/** Squared distance between the boxes of two walls. */
function wallBoxesApart2(p: Float64Array, a: number, q: Float64Array, b: number): number {
  const dx = Math.max(
    0,
    Math.min(p[a], p[a + 2]) - Math.max(q[b], q[b + 2]),
    Math.min(q[b], q[b + 2]) - Math.max(p[a], p[a + 2]),
  );
  const dy = Math.max(
    0,
    Math.min(p[a + 1], p[a + 3]) - Math.max(q[b + 1], q[b + 3]),
    Math.min(q[b + 1], q[b + 3]) - Math.max(p[a + 1], p[a + 3]),
  );
  return dx * dx + dy * dy;
}

function sideOf(ax: number, ay: number, bx: number, by: number, cx: number, cy: number): number {
  return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}

function wallsCross(p: Float64Array, a: number, q: Float64Array, b: number): boolean {
  const s1 = sideOf(p[a], p[a + 1], p[a + 2], p[a + 3], q[b], q[b + 1]);
  const s2 = sideOf(p[a], p[a + 1], p[a + 2], p[a + 3], q[b + 2], q[b + 3]);
  if (s1 > 0 === s2 > 0 || s1 === 0 || s2 === 0) return false;
  const s3 = sideOf(q[b], q[b + 1], q[b + 2], q[b + 3], p[a], p[a + 1]);
  const s4 = sideOf(q[b], q[b + 1], q[b + 2], q[b + 3], p[a + 2], p[a + 3]);
  return s3 > 0 !== s4 > 0 && s3 !== 0 && s4 !== 0;
}

/** How far two points lie apart. */
export const distance = (p: Point, q: Point): number => Math.hypot(p[0] - q[0], p[1] - q[1]);

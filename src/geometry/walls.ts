import type { Box, Point, Region, Ring } from './types.js';

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

/** Lays out a region's walls, islands included. */
export function wallsOf(region: Region): Walls {
  const rings = [region.outer, ...region.islands];
  const xy = new Float64Array(rings.reduce((sum, ring) => sum + ring.length * 4, 0));
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  let at = 0;
  for (const ring of rings) {
    let previous = ring[ring.length - 1];
    for (const point of ring) {
      const [x, y] = point;
      xy[at] = previous[0];
      xy[at + 1] = previous[1];
      xy[at + 2] = x;
      xy[at + 3] = y;
      at += 4;
      if (x < minX) minX = x;
      if (x > maxX) maxX = x;
      if (y < minY) minY = y;
      if (y > maxY) maxY = y;
      previous = point;
    }
  }
  return { xy, box: { minX, minY, maxX, maxY } };
}

/** Distance between two boxes; 0 when they overlap. */
export function boxDistance(p: Box, q: Box): number {
  const dx = Math.max(0, p.minX - q.maxX, q.minX - p.maxX);
  const dy = Math.max(0, p.minY - q.maxY, q.minY - p.maxY);
  return Math.hypot(dx, dy);
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

/** Nearest point to (x, y) on the wall that starts at `at`, squared distance first. */
function pointToWall(x: number, y: number, xy: Float64Array, at: number): [number, number, number] {
  const ax = xy[at];
  const ay = xy[at + 1];
  const dx = xy[at + 2] - ax;
  const dy = xy[at + 3] - ay;
  const length2 = dx * dx + dy * dy;
  let t = length2 > 0 ? ((x - ax) * dx + (y - ay) * dy) / length2 : 0;
  t = Math.max(0, Math.min(t, 1));
  const fx = ax + t * dx;
  const fy = ay + t * dy;
  return [(x - fx) ** 2 + (y - fy) ** 2, fx, fy];
}

/** Distance from a point to the nearest wall, mm. */
export function distanceToWalls([x, y]: Point, walls: Walls): number {
  let best = Infinity;
  for (let at = 0; at < walls.xy.length; at += 4) {
    const d = pointToWall(x, y, walls.xy, at)[0];
    if (d < best) best = d;
  }
  return Math.sqrt(best);
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
  for (let at = 0; at < q.xy.length; at += 4) best = Math.min(best, pointToWall(cx, cy, q.xy, at)[0]);
  return Math.sqrt(best);
}

/**
 * The smallest distance between the walls of two regions, exact for polygons.
 *
 * @param limitMm - distances above it are of no interest
 * @returns undefined when the distance is above the limit; 0 when walls cross. A region that lies wholly inside another
 * has the distance to the walls around it: the caller tells that case with {@link insideRegion}.
 */
export function nearestBetween(p: Walls, q: Walls, limitMm = Infinity): Nearest | undefined {
  if (boxDistance(p.box, q.box) > limitMm) return undefined;
  const limit = Math.min(limitMm, upperBound(p, q)) * (1 + 1e-9) + 1e-12;
  const pNear = wallsNear(p, q.box, limit);
  const qNear = wallsNear(q, boxOfWalls(p, pNear), limit);
  const pLeft = qNear.length > 0 ? wallsNear(p, boxOfWalls(q, qNear), limit) : [];
  let best2 = limit * limit;
  let best: Nearest | undefined;
  const take = (d2: number, fromX: number, fromY: number, toX: number, toY: number): void => {
    if (d2 > best2 || (best && d2 === best2)) return;
    best2 = d2;
    best = { distanceMm: Math.sqrt(d2), from: [fromX, fromY], to: [toX, toY] };
  };
  for (const a of pLeft) {
    for (const b of qNear) {
      if (wallsCross(p.xy, a, q.xy, b)) {
        const point: Point = [p.xy[a], p.xy[a + 1]];
        return { distanceMm: 0, from: point, to: point };
      }
      for (const end of [0, 2]) {
        const [x, y] = [p.xy[a + end], p.xy[a + end + 1]];
        const [d2, fx, fy] = pointToWall(x, y, q.xy, b);
        take(d2, x, y, fx, fy);
        const [s, t] = [q.xy[b + end], q.xy[b + end + 1]];
        const [e2, gx, gy] = pointToWall(s, t, p.xy, a);
        take(e2, gx, gy, s, t);
      }
    }
  }
  return best;
}

function wallsCross(p: Float64Array, a: number, q: Float64Array, b: number): boolean {
  const side = (ax: number, ay: number, bx: number, by: number, cx: number, cy: number): number =>
    (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
  const [ax, ay, bx, by] = [p[a], p[a + 1], p[a + 2], p[a + 3]];
  const [cx, cy, dx, dy] = [q[b], q[b + 1], q[b + 2], q[b + 3]];
  const s1 = side(ax, ay, bx, by, cx, cy);
  const s2 = side(ax, ay, bx, by, dx, dy);
  if (s1 > 0 === s2 > 0 || s1 === 0 || s2 === 0) return false;
  const s3 = side(cx, cy, dx, dy, ax, ay);
  const s4 = side(cx, cy, dx, dy, bx, by);
  return s3 > 0 !== s4 > 0 && s3 !== 0 && s4 !== 0;
}

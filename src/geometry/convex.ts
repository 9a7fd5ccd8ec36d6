import { convexHull } from './oriented-box.js';
import type { Point, Ring } from './types.js';
import { budgetInForce } from './work-budget.js';

/** Whether a counter-clockwise ring never turns right. */
export function isConvex(ring: Ring): boolean {
  const n = ring.length;
  let turning = 0;
  for (let i = 0; i < n; i += 1) {
    const a = ring[i];
    const b = ring[(i + 1) % n];
    const c = ring[(i + 2) % n];
    const ux = b[0] - a[0];
    const uy = b[1] - a[1];
    const vx = c[0] - b[0];
    const vy = c[1] - b[1];
    const cross = ux * vy - uy * vx;
    // Collinear noise of 1e-12 relative is no right turn.
    if (cross < -1e-12 * (Math.hypot(ux, uy) * Math.hypot(vx, vy) + 1e-18)) return false;
    turning += Math.atan2(cross, ux * vx + uy * vy);
  }
  return Math.abs(turning - 2 * Math.PI) < 1e-6;
}

/** What a corner costs that is held against a half plane, in the units of `WorkBudget`. */
const CLIP_COST = 0.4;

/**
 * Shrinks a convex counter-clockwise ring by an ellipse, exactly: each edge moves in by the ellipse's reach square to
 * it, and what is left is the common part of the half planes. Straight corners stay corners (T ⊖ E of a convex T).
 *
 * @returns the smaller ring, or an empty one when nothing is left
 */
export function erodeConvex(ring: Ring, widthXMm: number, widthYMm: number): Ring {
  let left: Point[] = [...ring];
  const n = ring.length;
  for (let i = 0; i < n && left.length > 0; i += 1) {
    const [x0, y0] = ring[i];
    const [x1, y1] = ring[(i + 1) % n];
    const length = Math.hypot(x1 - x0, y1 - y0);
    if (length === 0) continue;
    const nx = -(y1 - y0) / length;
    const ny = (x1 - x0) / length;
    const reach = Math.hypot((widthXMm / 2) * nx, (widthYMm / 2) * ny);
    budgetInForce()?.spend(CLIP_COST * left.length);
    left = clipHalfPlane(left, nx, ny, nx * x0 + ny * y0 + reach);
  }
  return left;
}

/** The part of a convex ring where nx x + ny y >= limit. */
function clipHalfPlane(ring: readonly Point[], nx: number, ny: number, limit: number): Point[] {
  const kept: Point[] = [];
  const depth = (p: Point): number => nx * p[0] + ny * p[1] - limit;
  let previous = ring[ring.length - 1];
  let before = depth(previous);
  for (const point of ring) {
    const now = depth(point);
    if (now >= 0 !== before >= 0) {
      const t = before / (before - now);
      kept.push([previous[0] + t * (point[0] - previous[0]), previous[1] + t * (point[1] - previous[1])]);
    }
    if (now >= 0) kept.push(point);
    previous = point;
    before = now;
  }
  return kept.length >= 3 ? kept : [];
}

/**
 * The convex hull of a counter-clockwise ring, if the ring dips below it by no more than `depthMm` anywhere; undefined
 * for a ring that is bent for real. Traced outlines wobble by a hundredth of a pixel without meaning it.
 */
export function nearlyConvex(ring: Ring, depthMm: number): Ring | undefined {
  const hull = convexHull(ring);
  if (hull.length < 3) return undefined;
  const start = ring.indexOf(hull[0]);
  let corner = 0;
  for (let i = 1; i <= ring.length; i += 1) {
    const point = ring[(start + i) % ring.length];
    const from = hull[corner];
    const to = hull[(corner + 1) % hull.length];
    if (point === to) {
      corner += 1;
      continue;
    }
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const depth = ((to[0] - from[0]) * (point[1] - from[1]) - (to[1] - from[1]) * (point[0] - from[0])) / length;
    if (depth > depthMm) return undefined;
  }
  return corner === hull.length ? hull : undefined;
}

import type { Point, Ring } from './types.js';

/**
 * Leaves out corners that lie within a tolerance of the line between their neighbours that stay (Douglas and Peucker,
 * "Algorithms for the reduction of the number of points required to represent a digitized line", 1973).
 *
 * @returns at least three corners, all of them corners of the ring
 */
export function simplifyRing(ring: Ring, toleranceMm: number): Ring {
  if (ring.length <= 4) return ring;
  // Two corners that surely stay: the leftmost one and the one farthest from it.
  const first = extreme(ring, (point) => -point[0]);
  const far = extreme(ring, (point) => distance2(point, ring[first], 0, 0));
  const keep = new Array<boolean>(ring.length).fill(false);
  keep[first] = true;
  keep[far] = true;
  // From where to where is still to be looked at, one pair after the other.
  const spans = [first, far, far, first];
  while (spans.length > 0) {
    const to = spans.pop() as number;
    const from = spans.pop() as number;
    const count = (to - from + ring.length) % ring.length;
    let worst = toleranceMm ** 2;
    let at = -1;
    for (let k = 1; k < count; k += 1) {
      const i = (from + k) % ring.length;
      const off = offSegment2(ring[i], ring[from], ring[to]);
      if (off > worst) {
        worst = off;
        at = i;
      }
    }
    if (at < 0) continue;
    keep[at] = true;
    spans.push(from, at, at, to);
  }
  const kept = ring.filter((_, i) => keep[i]);
  return kept.length >= 3 ? kept : ring;
}

function extreme(ring: Ring, of: (point: Point) => number): number {
  let best = 0;
  let most = -Infinity;
  for (let i = 0; i < ring.length; i += 1) {
    const value = of(ring[i]);
    if (value <= most) continue;
    most = value;
    best = i;
  }
  return best;
}

/** Squared distance from a point to the segment a-b. */
function offSegment2(p: Point, a: Point, b: Point): number {
  const dx = b[0] - a[0];
  const dy = b[1] - a[1];
  const length2 = dx * dx + dy * dy;
  const t = length2 > 0 ? Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2)) : 0;
  return distance2(p, a, t * dx, t * dy);
}

/** Squared distance from a point to one that lies so far from another. */
function distance2(p: Point, from: Point, dx: number, dy: number): number {
  const x = p[0] - from[0] - dx;
  const y = p[1] - from[1] - dy;
  return x * x + y * y;
}

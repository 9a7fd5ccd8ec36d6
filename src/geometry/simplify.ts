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
  const first = extreme(ring, ([x]) => -x);
  const far = extreme(ring, ([x, y]) => Math.hypot(x - ring[first][0], y - ring[first][1]));
  const keep = new Array<boolean>(ring.length).fill(false);
  keep[first] = true;
  keep[far] = true;
  const spans: [number, number][] = [
    [first, far],
    [far, first],
  ];
  for (let span = spans.pop(); span; span = spans.pop()) {
    const [from, to] = span;
    const count = (to - from + ring.length) % ring.length;
    let worst = toleranceMm;
    let at = -1;
    for (let k = 1; k < count; k += 1) {
      const i = (from + k) % ring.length;
      const off = offLine(ring[i], ring[from], ring[to]);
      if (off > worst) [worst, at] = [off, i];
    }
    if (at < 0) continue;
    keep[at] = true;
    spans.push([from, at], [at, to]);
  }
  const kept = ring.filter((_, i) => keep[i]);
  return kept.length >= 3 ? kept : ring;
}

function extreme(ring: Ring, of: (point: Point) => number): number {
  let best = 0;
  ring.forEach((point, i) => {
    if (of(point) > of(ring[best])) best = i;
  });
  return best;
}

/** Distance from a point to the segment a-b. */
function offLine(p: Point, a: Point, b: Point): number {
  const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
  const length2 = dx * dx + dy * dy;
  const t = length2 > 0 ? Math.max(0, Math.min(1, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2)) : 0;
  return Math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
}

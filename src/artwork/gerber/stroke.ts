import { counterClockwise } from '../../geometry/affine.js';
import { convexHull } from '../../geometry/oriented-box.js';
import { type Arc, arcPoints, solid } from '../../geometry/shapes.js';
import type { Point, Region, Ring } from '../../geometry/types.js';
import { unionOfRings, unite } from '../paint/clip.js';
import { disc, halfTurn } from './standard-shape.js';

/** What a round pen leaves along a straight line: a capsule. */
export function roundLine([x0, y0]: Point, [x1, y1]: Point, diameterMm: number): Region[] {
  const radius = diameterMm / 2;
  if (x0 === x1 && y0 === y1) return [solid(disc(x0, y0, radius))];
  const angle = Math.atan2(y1 - y0, x1 - x0);
  return [solid([...halfTurn(x1, y1, radius, angle - Math.PI / 2), ...halfTurn(x0, y0, radius, angle + Math.PI / 2)])];
}

/** What a round pen leaves along an arc. */
export function roundArc(arc: Arc, diameterMm: number): Region[] {
  const half = diameterMm / 2;
  const mean = (arc.startRadius + arc.endRadius) / 2;
  const { cx, cy } = arc;
  if (mean === 0) return [solid(disc(cx, cy, half))];
  const full = Math.abs(arc.sweep) >= 2 * Math.PI - 1e-12;
  if (full && arc.startRadius === arc.endRadius) {
    const outer = disc(cx, cy, mean + half);
    return mean > half ? [{ outer, islands: [disc(cx, cy, mean - half).toReversed()] }] : [solid(outer)];
  }
  const sign = Math.sign(arc.sweep);
  const outside = arcPoints({ ...arc, startRadius: arc.startRadius + half, endRadius: arc.endRadius + half });
  const endAngle = arc.start + arc.sweep;
  const end: Point = [cx + arc.endRadius * Math.cos(endAngle), cy + arc.endRadius * Math.sin(endAngle)];
  const begin: Point = [cx + arc.startRadius * Math.cos(arc.start), cy + arc.startRadius * Math.sin(arc.start)];
  if (Math.min(arc.startRadius, arc.endRadius) <= half) {
    // A spiral that comes out of the pen is drawn bit by bit.
    if (Math.max(arc.startRadius, arc.endRadius) > half * 1.1) return alongArc(arc, diameterMm);
    // The pen covers the centre. What lies nearer to the inside of the arc than half the pen is the whole sector; what
    // lies nearest to one of its ends is the pen there.
    return unionOfRings([
      counterClockwise([...outside, [cx, cy]]),
      disc(begin[0], begin[1], half),
      disc(end[0], end[1], half),
    ]);
  }
  const inside = arcPoints({ ...arc, startRadius: arc.startRadius - half, endRadius: arc.endRadius - half }).reverse();
  const cap = (at: Point, from: number): Ring =>
    arcPoints({ cx: at[0], cy: at[1], startRadius: half, endRadius: half, start: from, sweep: sign * Math.PI });
  const ring = [
    ...outside,
    ...cap(end, endAngle).slice(1, -1),
    ...inside,
    ...cap(begin, arc.start + Math.PI).slice(1, -1),
  ];
  const band = counterClockwise(ring);
  // Only an arc that nearly closes can run into its own ends.
  return Math.abs(arc.sweep) > Math.PI ? unionOfRings([band]) : [solid(band)];
}

/** The pen along the arc as a chain of capsules. */
function alongArc(arc: Arc, diameterMm: number): Region[] {
  const points = arcPoints(arc);
  return unite(points.slice(1).flatMap((p, i) => roundLine(points[i], p, diameterMm)));
}

/** What a convex pen of any outline leaves along a line: the hull of both its ends. */
export function convexLine(pen: Ring, [x0, y0]: Point, [x1, y1]: Point): Region[] {
  const at = (dx: number, dy: number): Ring => pen.map(([x, y]): Point => [x + dx, y + dy]);
  return [solid(convexHull([...at(x0, y0), ...at(x1, y1)]))];
}

/** A convex pen along many short lines. */
export function convexPath(pen: Ring, points: readonly Point[]): Region[] {
  return unite(points.slice(1).flatMap((p, i) => convexLine(pen, points[i], p)));
}

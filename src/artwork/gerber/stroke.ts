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

/** What a round pen leaves along an arc: the band between two arcs, and the pen at both ends. */
export function roundArc(arc: Arc, diameterMm: number): Region[] {
  const half = diameterMm / 2;
  const { cx, cy, startRadius, endRadius } = arc;
  const [least, most] = [Math.min(startRadius, endRadius), Math.max(startRadius, endRadius)];
  // A spiral that comes out of the pen is drawn bit by bit.
  if (least <= half && most > half * 1.1) return alongArc(arc, diameterMm);
  const moved = (by: number): Arc => ({ ...arc, startRadius: startRadius + by, endRadius: endRadius + by });
  // Where the pen covers the centre, what lies nearer to the inside of the arc than half the pen is the whole sector.
  const inside: Point[] = least > half ? arcPoints(moved(-half)).reverse() : [[cx, cy]];
  const ends = [arc.start, arc.start + arc.sweep].map((angle, i) => {
    const radius = i === 0 ? startRadius : endRadius;
    return disc(cx + radius * Math.cos(angle), cy + radius * Math.sin(angle), half);
  });
  return unionOfRings([counterClockwise([...arcPoints(moved(half)), ...inside]), ...ends]);
}

/** The pen along the arc as a chain of capsules. */
function alongArc(arc: Arc, diameterMm: number): Region[] {
  const points = arcPoints(arc);
  return unite(points.slice(1).flatMap((p, i) => roundLine(points[i], p, diameterMm)));
}

/** What a convex pen of any outline leaves along a line, or many short ones: the hull of both ends of each. */
export function convexPath(pen: Ring, points: readonly Point[]): Region[] {
  const at = ([dx, dy]: Point): Ring => pen.map(([x, y]): Point => [x + dx, y + dy]);
  const hulls = points.slice(1).map((p, i) => solid(convexHull([...at(points[i]), ...at(p)])));
  return hulls.length === 1 ? hulls : unite(hulls);
}

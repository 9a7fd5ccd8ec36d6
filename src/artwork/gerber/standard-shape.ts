import { counterClockwise, rotation } from '../../geometry/affine.js';
import { ringBounds } from '../../geometry/bounds.js';
import { convexHull } from '../../geometry/oriented-box.js';
import { type Arc, arcPoints, ellipse, rectangle, solid } from '../../geometry/shapes.js';
import type { Point, Region, Ring } from '../../geometry/types.js';
import { cut, unionOfRings, unite } from '../paint/unite.js';

/** A disc as a ring, counter-clockwise. */
export const disc = (cx: number, cy: number, radius: number): Ring => ellipse(cx, cy, radius);

/** Half a circle, counter-clockwise. */
const halfTurn = (cx: number, cy: number, radius: number, start: number): Ring =>
  arcPoints({ cx, cy, startRadius: radius, endRadius: radius, start, sweep: Math.PI });

export const box = (widthMm: number, heightMm: number, cx = 0, cy = 0): Ring =>
  rectangle(cx - widthMm / 2, cy - heightMm / 2, cx + widthMm / 2, cy + heightMm / 2);

/** A rectangle whose shorter sides are half circles. */
export function obround(widthMm: number, heightMm: number): Ring {
  if (widthMm === heightMm) return disc(0, 0, widthMm / 2);
  const radius = Math.min(widthMm, heightMm) / 2;
  const reach = Math.max(widthMm, heightMm) / 2 - radius;
  const wide = widthMm > heightMm;
  return wide
    ? [...halfTurn(reach, 0, radius, -Math.PI / 2), ...halfTurn(-reach, 0, radius, Math.PI / 2)]
    : [...halfTurn(0, reach, radius, 0), ...halfTurn(0, -reach, radius, Math.PI)];
}

/** A regular polygon; the first corner lies on +X, turned by the angle. The diameter is that of the outer circle. */
export function regularPolygon(diameterMm: number, corners: number, angleDeg = 0, cx = 0, cy = 0): Ring {
  const { a, c } = rotation(angleDeg);
  return Array.from({ length: corners }, (_, i): [number, number] => {
    const { a: cos, c: sin } = rotation((360 * i) / corners);
    const x = (cos * diameterMm) / 2;
    const y = (sin * diameterMm) / 2;
    return [cx + a * x - c * y, cy + c * x + a * y];
  });
}

/** A solid outline with a hole about the origin. A hole that reaches the edge opens it. */
export function withHole(outer: Ring, hole: Ring | undefined): Region[] {
  if (!hole) return [solid(outer)];
  // Inside for sure: every corner of the hole's box lies on the inner side of every edge of the convex outline.
  const b = ringBounds(hole);
  const corners = rectangle(b.minX, b.minY, b.maxX, b.maxY);
  const inside = outer.every(([x0, y0], i) => {
    const [x1, y1] = outer[(i + 1) % outer.length];
    return corners.every(([x, y]) => (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) > 0);
  });
  if (inside) return [{ outer, islands: [hole.toReversed()] }];
  return cut([solid(outer)], [solid(hole)]);
}

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

import { rotation } from '../../geometry/affine.js';
import { ringBounds } from '../../geometry/bounds.js';
import { arcPoints, ellipse, rectangle, solid } from '../../geometry/shapes.js';
import type { Region, Ring } from '../../geometry/types.js';
import { cut } from '../paint/clip.js';

/** A disc as a ring, counter-clockwise. */
export const disc = (cx: number, cy: number, radius: number): Ring => ellipse(cx, cy, radius);

/** Half a circle, counter-clockwise. */
export const halfTurn = (cx: number, cy: number, radius: number, start: number): Ring =>
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

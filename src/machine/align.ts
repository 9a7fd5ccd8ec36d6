import type { Point } from '../geometry/types.js';

/**
 * The shift and turn, without scale, that lay one set of points best on another, by least squares: a person lays the
 * film on the board by eye. Closed form: the angle is that of the summed products of the centred points.
 *
 * @param from - points to be moved, mm: x, y, x, y, …
 * @param to - where they should lie, mm, as many
 */
export function alignRigid(from: Float64Array, to: Float64Array): (p: Point) => Point {
  const [fx, fy] = meanOf(from);
  const [tx, ty] = meanOf(to);
  let dot = 0;
  let cross = 0;
  for (let i = 0; i < from.length; i += 2) {
    const px = from[i] - fx;
    const py = from[i + 1] - fy;
    const qx = to[i] - tx;
    const qy = to[i + 1] - ty;
    dot += px * qx + py * qy;
    cross += px * qy - py * qx;
  }
  const angleRad = dot === 0 && cross === 0 ? 0 : Math.atan2(cross, dot);
  const cos = Math.cos(angleRad);
  const sin = Math.sin(angleRad);
  const dx = tx - (cos * fx - sin * fy);
  const dy = ty - (sin * fx + cos * fy);
  return ([x, y]) => [cos * x - sin * y + dx, sin * x + cos * y + dy];
}

function meanOf(points: Float64Array): Point {
  const count = Math.max(1, points.length / 2);
  let [x, y] = [0, 0];
  for (let i = 0; i < points.length; i += 2) {
    x += points[i];
    y += points[i + 1];
  }
  return [x / count, y / count];
}

import type { Point } from '../geometry/types.js';

/** The shift and turn that lay one set of points best on another. */
export interface Alignment {
  readonly angleRad: number;
  readonly dx: number;
  readonly dy: number;
  readonly map: (p: Point) => Point;
}

/**
 * Least-squares rigid alignment in the plane (shift and turn, no scale): a person lays the film on the board by eye.
 * Closed form: the angle is that of the summed products of the centred points.
 *
 * @param from - points to be moved, mm
 * @param to - where they should lie, mm, same length
 */
export function alignRigid(from: readonly Point[], to: readonly Point[]): Alignment {
  const n = Math.max(1, from.length);
  const mean = (points: readonly Point[]): Point => [
    points.reduce((sum, p) => sum + p[0], 0) / n,
    points.reduce((sum, p) => sum + p[1], 0) / n,
  ];
  const [fx, fy] = mean(from);
  const [tx, ty] = mean(to);
  let dot = 0;
  let cross = 0;
  for (let i = 0; i < from.length; i += 1) {
    const px = from[i][0] - fx;
    const py = from[i][1] - fy;
    const qx = to[i][0] - tx;
    const qy = to[i][1] - ty;
    dot += px * qx + py * qy;
    cross += px * qy - py * qx;
  }
  const angleRad = dot === 0 && cross === 0 ? 0 : Math.atan2(cross, dot);
  const cos = Math.cos(angleRad);
  const sin = Math.sin(angleRad);
  const dx = tx - (cos * fx - sin * fy);
  const dy = ty - (sin * fx + cos * fy);
  return { angleRad, dx, dy, map: ([x, y]) => [cos * x - sin * y + dx, sin * x + cos * y + dy] };
}

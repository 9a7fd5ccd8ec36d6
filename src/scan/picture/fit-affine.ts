import type { Affine, Point } from '../../geometry/types.js';
import { medianOf } from './robust.js';

export interface AffineFit {
  readonly map: Affine;
  /** What is left over of each pair, in the target's unit. */
  readonly residuals: readonly (readonly [number, number])[];
}

/** The affine map nearest to pairs of points, those that don't fit counting less (Huber); undefined when they lie on a line. */
export function fitAffine(pairs: readonly (readonly [Point, Point])[]): AffineFit | undefined {
  let weights = pairs.map(() => 1);
  let fit: AffineFit | undefined;
  for (let round = 0; round < 6; round += 1) {
    const map = weighted(pairs, weights);
    if (!map) return undefined;
    const residuals = pairs.map(([p, q]): [number, number] => [
      q[0] - (map.a * p[0] + map.b * p[1] + map.e),
      q[1] - (map.c * p[0] + map.d * p[1] + map.f),
    ]);
    const far = residuals.map(([x, y]) => Math.hypot(x, y));
    weights = weightsOf(far);
    fit = { map, residuals };
  }
  return fit;
}

/** A film and a scanner strain a picture by about this much, relative; places lie within this of a straight map, mm. */
const USUAL_STRAIN = 0.004;
const USUAL_MM = 0.03;

/**
 * The map nearest to pairs of points that turns, moves and scales, and strains no more than a film does: what little there
 * is to be told of strain is weighed against that. Points on a line will do.
 *
 * @param pairs - mm, and pixels
 * @param start - a map near to it, which tells which side lies up, too
 */
export function fitStiff(pairs: readonly (readonly [Point, Point])[], start: Affine): Affine | undefined {
  const flip = start.a * start.d - start.b * start.c < 0 ? -1 : 1;
  let map: Affine | undefined = start;
  for (let round = 0; round < 6 && map; round += 1) {
    const { a, b, c, d, e, f }: Affine = map;
    const far = pairs.map(([[x, y], [u, v]]) => Math.hypot(u - (a * x + b * y + e), v - (c * x + d * y + f)));
    map = strained(momentsOf(pairs, weightsOf(far)), flip);
  }
  return map;
}

/** Those that don't fit count less (Huber), or not at all. */
function weightsOf(far: readonly number[]): number[] {
  const usual = Math.max(1e-9, 1.5 * medianOf(far));
  return far.map((r) => (r > 4 * usual ? 0 : r > usual ? usual / r : 1));
}

function strained(moments: Moments | undefined, flip: number): Affine | undefined {
  if (!moments || !(moments.xx + moments.yy > 0)) return undefined;
  const { xx, xy, yy, xu, yu, xv, yv } = moments;
  // Least squares of a turn and a scale, upside down or not.
  const cos = (xu + flip * yv) / (xx + yy);
  const sin = (xv - flip * yu) / (xx + yy);
  const [a, b, c, d] = [cos, -flip * sin, sin, flip * cos];
  // What is left over strains it as far as the pairs insist (ridge regression).
  const ridge = (USUAL_MM / USUAL_STRAIN) ** 2;
  const [kx, ky] = [xx + ridge, yy + ridge];
  const det = kx * ky - xy * xy;
  const more = (rx: number, ry: number): [number, number] => [(ky * rx - xy * ry) / det, (kx * ry - xy * rx) / det];
  const [da, db] = more(xu - a * xx - b * xy, yu - a * xy - b * yy);
  const [dc, dd] = more(xv - c * xx - d * xy, yv - c * xy - d * yy);
  return about(moments, { a: a + da, b: b + db, c: c + dc, d: d + dd });
}

/** Weighted middles of pairs, and products about them. */
interface Moments {
  readonly from: Point;
  readonly to: Point;
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
  readonly xu: number;
  readonly yu: number;
  readonly xv: number;
  readonly yv: number;
}

function momentsOf(pairs: readonly (readonly [Point, Point])[], weights: readonly number[]): Moments | undefined {
  let [s, px, py, qx, qy] = [0, 0, 0, 0, 0];
  pairs.forEach(([p, q], i) => {
    const w = weights[i];
    s += w;
    px += w * p[0];
    py += w * p[1];
    qx += w * q[0];
    qy += w * q[1];
  });
  if (!(s > 0)) return undefined;
  [px, py, qx, qy] = [px / s, py / s, qx / s, qy / s];
  let [xx, xy, yy, xu, yu, xv, yv] = [0, 0, 0, 0, 0, 0, 0];
  pairs.forEach(([p, q], i) => {
    const w = weights[i];
    const [x, y, u, v] = [p[0] - px, p[1] - py, q[0] - qx, q[1] - qy];
    xx += w * x * x;
    xy += w * x * y;
    yy += w * y * y;
    xu += w * x * u;
    yu += w * y * u;
    xv += w * x * v;
    yv += w * y * v;
  });
  return { from: [px, py], to: [qx, qy], xx, xy, yy, xu, yu, xv, yv };
}

const about = ({ from, to }: Moments, { a, b, c, d }: Omit<Affine, 'e' | 'f'>): Affine => ({
  ...{ a, b, c, d },
  e: to[0] - a * from[0] - b * from[1],
  f: to[1] - c * from[0] - d * from[1],
});

function weighted(pairs: readonly (readonly [Point, Point])[], weights: readonly number[]): Affine | undefined {
  const moments = momentsOf(pairs, weights);
  if (!moments) return undefined;
  const { xx, xy, yy, xu, yu, xv, yv } = moments;
  const det = xx * yy - xy * xy;
  if (!(det > 1e-6 * (xx + yy) ** 2)) return undefined;
  return about(moments, {
    a: (yy * xu - xy * yu) / det,
    b: (xx * yu - xy * xu) / det,
    c: (yy * xv - xy * yv) / det,
    d: (xx * yv - xy * xv) / det,
  });
}

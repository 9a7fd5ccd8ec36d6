import type { Affine, Point } from '../../geometry/types.js';
import { medianOf } from './robust.js';

export interface AffineFit {
  readonly map: Affine;
  /** What is left over of each pair, in the target's unit. */
  readonly residuals: readonly (readonly [number, number])[];
}

type Pairs = readonly (readonly [Point, Point])[];

/** The affine map nearest to pairs of points, those that don't fit counting less (Huber); undefined when they lie on a line. */
export function fitAffine(pairs: Pairs): AffineFit | undefined {
  return fitted(pairs, undefined, (moments) => {
    const { xx, xy, yy } = moments;
    return xx * yy - xy * xy > 1e-6 * (xx + yy) ** 2 ? strained(moments, 0, 0, 1, 0) : undefined;
  });
}

/** A film and a scanner strain a picture by about this much, relative; places lie within this of a straight map, mm. */
const USUAL_STRAIN = 0.004;
const USUAL_MM = 0.03;

/**
 * The map nearest to pairs of points that turns, moves and scales, and strains no more than a film does: what little there
 * is to be told of strain is weighed against that (ridge regression). Points on a line will do.
 *
 * @param pairs - mm, and pixels
 * @param start - a map near to it, which tells which side lies up, too
 */
export function fitStiff(pairs: Pairs, start: Affine): Affine | undefined {
  const flip = start.a * start.d - start.b * start.c < 0 ? -1 : 1;
  return fitted(pairs, start, (moments) => {
    const { xx, yy, xu, yu, xv, yv } = moments;
    if (!(xx + yy > 0)) return undefined;
    // Least squares of a turn and a scale, upside down or not.
    const cos = (xu + flip * yv) / (xx + yy);
    const sin = (xv - flip * yu) / (xx + yy);
    return strained(moments, cos, sin, flip, (USUAL_MM / USUAL_STRAIN) ** 2);
  })?.map;
}

/** Fits again and again, those that don't fit counting less (Huber), or not at all. */
function fitted(
  pairs: Pairs,
  start: Affine | undefined,
  solve: (moments: Moments) => Affine | undefined,
): AffineFit | undefined {
  let residuals = start && leftOf(pairs, start);
  let map: Affine | undefined;
  for (let round = 0; round < 6; round += 1) {
    const moments = momentsOf(pairs, residuals ? weightsOf(residuals) : pairs.map(() => 1));
    map = moments && solve(moments);
    if (!map) return undefined;
    residuals = leftOf(pairs, map);
  }
  return map && residuals && { map, residuals };
}

const leftOf = (pairs: Pairs, { a, b, c, d, e, f }: Affine): (readonly [number, number])[] =>
  pairs.map(([[x, y], [u, v]]) => [u - (a * x + b * y + e), v - (c * x + d * y + f)]);

function weightsOf(residuals: readonly (readonly [number, number])[]): number[] {
  const far = residuals.map(([x, y]) => Math.hypot(x, y));
  const usual = Math.max(1e-9, 1.5 * medianOf(far));
  return far.map((r) => (r > 4 * usual ? 0 : r > usual ? usual / r : 1));
}

/** A turned and scaled map, and what is left over strains it as far as the pairs insist. */
function strained(moments: Moments, cos: number, sin: number, flip: number, ridge: number): Affine {
  const { from, to, xx, xy, yy, xu, yu, xv, yv } = moments;
  const [kx, ky] = [xx + ridge, yy + ridge];
  const det = kx * ky - xy * xy;
  const more = (rx: number, ry: number): [number, number] => [(ky * rx - xy * ry) / det, (kx * ry - xy * rx) / det];
  const [p, q] = [-flip * sin, flip * cos];
  const [da, db] = more(xu - cos * xx - p * xy, yu - cos * xy - p * yy);
  const [dc, dd] = more(xv - sin * xx - q * xy, yv - sin * xy - q * yy);
  const [a, b, c, d] = [cos + da, p + db, sin + dc, q + dd];
  return { a, b, c, d, e: to[0] - a * from[0] - b * from[1], f: to[1] - c * from[0] - d * from[1] };
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

function momentsOf(pairs: Pairs, weights: readonly number[]): Moments | undefined {
  let [all, px, py, qx, qy] = [0, 0, 0, 0, 0];
  pairs.forEach(([p, q], i) => {
    const w = weights[i];
    all += w;
    px += w * p[0];
    py += w * p[1];
    qx += w * q[0];
    qy += w * q[1];
  });
  if (!(all > 0)) return undefined;
  const [from, to]: Point[] = [
    [px / all, py / all],
    [qx / all, qy / all],
  ];
  let [xx, xy, yy, xu, yu, xv, yv] = [0, 0, 0, 0, 0, 0, 0];
  pairs.forEach(([p, q], i) => {
    const w = weights[i];
    const [x, y, u, v] = [p[0] - from[0], p[1] - from[1], q[0] - to[0], q[1] - to[1]];
    xx += w * x * x;
    xy += w * x * y;
    yy += w * y * y;
    xu += w * x * u;
    yu += w * y * u;
    xv += w * x * v;
    yv += w * y * v;
  });
  return { from, to, xx, xy, yy, xu, yu, xv, yv };
}

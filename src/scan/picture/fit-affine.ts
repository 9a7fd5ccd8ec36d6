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
    const usual = Math.max(1e-9, 1.5 * medianOf(far));
    weights = far.map((r) => (r > 4 * usual ? 0 : r > usual ? usual / r : 1));
    fit = { map, residuals };
  }
  return fit;
}

function weighted(pairs: readonly (readonly [Point, Point])[], weights: readonly number[]): Affine | undefined {
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
  const det = xx * yy - xy * xy;
  if (!(det > 1e-6 * (xx + yy) ** 2)) return undefined;
  const a = (yy * xu - xy * yu) / det;
  const b = (xx * yu - xy * xu) / det;
  const c = (yy * xv - xy * yv) / det;
  const d = (xx * yv - xy * xv) / det;
  return { a, b, c, d, e: qx - a * px - b * py, f: qy - c * px - d * py };
}

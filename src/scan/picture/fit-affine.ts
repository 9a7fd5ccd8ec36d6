import type { Affine, Point } from '../../geometry/types.js';
import { medianOf } from './robust.js';

export interface AffineFit {
  readonly map: Affine;
  /** What is left over of each pair, in the target's unit. */
  readonly residuals: readonly (readonly [number, number])[];
}

type Pairs = readonly (readonly [Point, Point])[];

/** The affine map nearest to pairs of points, those that don't fit counting less (Huber); undefined when they lie on a line. */
export const fitAffine = (pairs: Pairs): AffineFit | undefined => fitted(pairs);

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
export const fitStiff = (pairs: Pairs, start: Affine): Affine | undefined => fitted(pairs, start)?.map;

/** Fits again and again, those that don't fit counting less (Huber), or not at all. */
function fitted(pairs: Pairs, start?: Affine): AffineFit | undefined {
  const numbers = pairs.map(([p, q]) => [...p, ...q]);
  let residuals = start && leftOf(pairs, start);
  let map: Affine | undefined;
  for (let round = 0; round < 6; round += 1) {
    map = weighted(numbers, residuals ? weightsOf(residuals) : pairs.map(() => 1), start);
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

/**
 * The map by weighted squares; of a stiff one what a turn and a scale leave strains it as far as the pairs insist.
 *
 * @param numbers - of each pair x and y, and where they come to lie
 */
function weighted(
  numbers: readonly (readonly number[])[],
  weights: readonly number[],
  stiff?: Affine,
): Affine | undefined {
  const all = weights.reduce((sum, w) => sum + w, 0);
  const middle = [0, 1, 2, 3].map((k) => numbers.reduce((sum, one, i) => sum + weights[i] * one[k], 0) / all);
  const product = (j: number, k: number): number =>
    numbers.reduce((sum, one, i) => sum + weights[i] * (one[j] - middle[j]) * (one[k] - middle[k]), 0);
  const [xx, xy, yy, xu, yu, xv, yv] = [product(0, 0), product(0, 1), product(1, 1), product(0, 2), product(1, 2), product(0, 3), product(1, 3)]; // biome-ignore format: one line
  if (!(stiff ? xx + yy > 0 : xx * yy - xy * xy > 1e-6 * (xx + yy) ** 2)) return undefined;
  const flip = stiff && stiff.a * stiff.d - stiff.b * stiff.c < 0 ? -1 : 1;
  // Least squares of a turn and a scale, upside down or not.
  const [cos, sin] = stiff ? [(xu + flip * yv) / (xx + yy), (xv - flip * yu) / (xx + yy)] : [0, 0];
  const ridge = stiff ? (USUAL_MM / USUAL_STRAIN) ** 2 : 0;
  const [kx, ky] = [xx + ridge, yy + ridge];
  const more = (rx: number, ry: number): [number, number] => [
    (ky * rx - xy * ry) / (kx * ky - xy * xy),
    (kx * ry - xy * rx) / (kx * ky - xy * xy),
  ];
  const [p, q] = [-flip * sin, flip * cos];
  const [da, db] = more(xu - cos * xx - p * xy, yu - cos * xy - p * yy);
  const [dc, dd] = more(xv - sin * xx - q * xy, yv - sin * xy - q * yy);
  const [a, b, c, d] = [cos + da, p + db, sin + dc, q + dd];
  const [x, y, u, v] = middle;
  return { a, b, c, d, e: u - a * x - b * y, f: v - c * x - d * y };
}

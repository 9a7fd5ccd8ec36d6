import { Matrix, SVD } from 'ml-matrix';
import type { Point } from '../../geometry/types.js';
import { fitAffine } from '../picture/fit-affine.js';
import { medianOf } from '../picture/robust.js';

/** How places in a picture depart from an affine map, in their own unit: as they are, and after the best picture of a plane. */
export interface Slant {
  readonly affine: number;
  readonly perspective: number;
}

/** Tells a photograph taken at a slant from a scan: a plane seen by a camera is a projective map, a scan an affine one. */
export function slantOf(pairs: readonly (readonly [Point, Point])[]): Slant | undefined {
  const straight = fitAffine(pairs);
  if (!straight || pairs.length < 8) return undefined;
  const affine = typical(straight.residuals);
  // Direct linear transformation on what the affine map leaves, so that all numbers are alike in size.
  const { a, b, c, d, e, f } = straight.map;
  const mapped = pairs.map(([p]): Point => [a * p[0] + b * p[1] + e, c * p[0] + d * p[1] + f]);
  const size = Math.max(...mapped.flat().map(Math.abs), 1);
  const rows = mapped.flatMap(([x, y], i) => {
    const [u, v] = pairs[i][1];
    const [px, py, qx, qy] = [x / size, y / size, u / size, v / size];
    return [
      [px, py, 1, 0, 0, 0, -px * qx, -py * qx, -qx],
      [0, 0, 0, px, py, 1, -px * qy, -py * qy, -qy],
    ];
  });
  const h = new SVD(new Matrix(rows), { autoTranspose: true }).rightSingularVectors.getColumn(8);
  const left = mapped.map(([x, y], i): [number, number] => {
    const [px, py] = [x / size, y / size];
    const w = h[6] * px + h[7] * py + h[8];
    const [u, v] = pairs[i][1];
    return [u - (size * (h[0] * px + h[1] * py + h[2])) / w, v - (size * (h[3] * px + h[4] * py + h[5])) / w];
  });
  return { affine, perspective: typical(left) };
}

const typical = (residuals: readonly (readonly [number, number])[]): number =>
  medianOf(residuals.map(([x, y]) => Math.hypot(x, y)));

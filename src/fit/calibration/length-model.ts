/** What is read: a length on the film as the machine's model sees it. */
export interface Length {
  readonly kind: 'span' | 'opening' | 'web' | 'vernier';
  /** From one edge to the other as commanded, mm; for a vernier the unit vector of its axis. */
  readonly dx: number;
  readonly dy: number;
}

/** sx, sy, shear, kx, ky: the order of PARAMETER_NAMES. */
export type Parameters = readonly number[];

export const KERF_SIGN = { span: 0, opening: 1, web: -1, vernier: 1 } as const;

/**
 * The reading that the model predicts, mm: |A d| for a span, + κ(u) for an opening, - κ(u) for a web. A vernier shows
 * the kerf in commanded millimetres, since its combs shrink and grow with the scale: κ(u) / |A u|.
 *
 * @param gradient - filled with the derivatives by the five parameters when given
 */
export function predictLength(length: Length, parameters: Parameters, gradient?: Float64Array): number {
  const [scaleX, scaleY, shear, kerfX, kerfY] = parameters;
  const { dx, dy, kind } = length;
  const gx = scaleX * dx + shear * dy;
  const gy = scaleY * dy;
  const film = Math.hypot(gx, gy);
  const commanded = Math.hypot(dx, dy);
  const ux = dx / commanded;
  const uy = dy / commanded;
  const kerf = kerfAlong(kerfX, kerfY, ux, uy);
  const sign = KERF_SIGN[kind];
  if (gradient) {
    gradient[0] = (gx * dx) / film;
    gradient[1] = (gy * dy) / film;
    gradient[2] = (gx * dy) / film;
    const [byX, byY] = kerfSlopes(kerfX, kerfY, ux, uy, kerf);
    gradient[3] = sign * byX;
    gradient[4] = sign * byY;
    if (kind === 'vernier') {
      for (let k = 0; k < 3; k += 1) gradient[k] *= -kerf / (film * film);
      gradient[3] /= film;
      gradient[4] /= film;
    }
  }
  return kind === 'vernier' ? kerf / film : film + sign * kerf;
}

/** κ(u), but with the sign kept along an axis, so that an estimate near zero isn't pushed up. */
function kerfAlong(kerfX: number, kerfY: number, ux: number, uy: number): number {
  if (uy === 0) return kerfX;
  if (ux === 0) return kerfY;
  return Math.hypot(kerfX * ux, kerfY * uy);
}

function kerfSlopes(kerfX: number, kerfY: number, ux: number, uy: number, kerf: number): [number, number] {
  if (uy === 0) return [1, 0];
  if (ux === 0) return [0, 1];
  if (kerf === 0) return [ux * ux, uy * uy];
  return [(kerfX * ux * ux) / kerf, (kerfY * uy * uy) / kerf];
}

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
 * the kerf in commanded millimetres, since its combs shrink and grow with the scale: κ(u) / |A u|. Along an axis κ keeps
 * the sign of the kerf, so that an estimate near zero isn't pushed up.
 *
 * @param gradient - filled with the derivatives by the five parameters when given
 * @remarks Math.sqrt and not Math.hypot, which takes ten times as long; lengths of millimetres can't overflow.
 */
export function predictLength(length: Length, parameters: Parameters, gradient?: Float64Array): number {
  const { dx, dy, kind } = length;
  const gx = parameters[0] * dx + parameters[2] * dy;
  const gy = parameters[1] * dy;
  const film = Math.sqrt(gx * gx + gy * gy);
  const kerfX = parameters[3];
  const kerfY = parameters[4];
  const square = dx * dx + dy * dy;
  const xx = (dx * dx) / square;
  const yy = (dy * dy) / square;
  const kerf = dy === 0 ? kerfX : dx === 0 ? kerfY : Math.sqrt(kerfX * kerfX * xx + kerfY * kerfY * yy);
  const sign = KERF_SIGN[kind];
  if (gradient) {
    const slanted = dx !== 0 && dy !== 0 && kerf > 0;
    const ofKerf = kind === 'vernier' ? sign / film : sign;
    const ofFilm = kind === 'vernier' ? -kerf / (film * film) : 1;
    gradient[0] = (ofFilm * gx * dx) / film;
    gradient[1] = (ofFilm * gy * dy) / film;
    gradient[2] = (ofFilm * gx * dy) / film;
    gradient[3] = ofKerf * (slanted ? (kerfX * xx) / kerf : xx);
    gradient[4] = ofKerf * (slanted ? (kerfY * yy) / kerf : yy);
  }
  return kind === 'vernier' ? kerf / film : film + sign * kerf;
}

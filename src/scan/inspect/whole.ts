import type { Affine, Box } from '../../geometry/types.js';
import type { GreyPicture } from '../picture/picture.js';

/** How a stencil comes out as a whole, by the scanner's own scale: lengths over those asked, and how Y leans towards X. */
export interface Whole {
  readonly scaleX: number;
  readonly scaleY: number;
  readonly shear: number;
  /** What the three come to over the stencil, mm. */
  readonly longerMm: number;
  readonly higherMm: number;
  readonly leanMm: number;
  /** From how much on each is judged, along X and along Y, mm. */
  readonly judgedFromMm: readonly [number, number];
  /** Any of these is more than a scanner and the places of single openings can make of it. */
  readonly wrong: boolean;
}

/** No flatbed scanner is off by as much; what is, is the stencil's own, or the resolution is not that of the picture. */
const SCANNER_SHARE = 0.007;

/**
 * @param map - from mm of the artwork to pixels
 * @param size - of all openings
 * @param placeMm - by how much an opening may lie beside its place
 */
export function wholeOf(
  { a, b, c, d }: Affine,
  { dotsPerMm }: GreyPicture,
  { minX, minY, maxX, maxY }: Box,
  placeMm: number,
): Whole | undefined {
  if (!dotsPerMm) return undefined;
  const [width, height] = [maxX - minX, maxY - minY];
  const [ax, ay, bx, by] = [a / dotsPerMm.x, c / dotsPerMm.y, b / dotsPerMm.x, d / dotsPerMm.y];
  const scaleX = Math.hypot(ax, ay);
  const scaleY = Math.abs(ax * by - ay * bx) / scaleX;
  const shear = (ax * bx + ay * by) / scaleX ** 2;
  const [longerMm, higherMm, leanMm] = [(scaleX - 1) * width, (scaleY - 1) * height, shear * height];
  const judgedFromMm = [SCANNER_SHARE * width + placeMm, SCANNER_SHARE * height + placeMm] as const;
  const wrong =
    Math.abs(longerMm) > judgedFromMm[0] || Math.max(Math.abs(higherMm), Math.abs(leanMm)) > judgedFromMm[1];
  return { scaleX, scaleY, shear, longerMm, higherMm, leanMm, judgedFromMm, wrong };
}

import type { Affine, Box, Point } from '../../geometry/types.js';
import type { GreyPicture } from '../picture/picture.js';
import type { MeasuredOpening, MeasuredSizes } from './measure-patch.js';

export type SeenFault = 'missing' | 'partly closed' | 'torn' | 'bridged' | 'too small' | 'too large' | 'out of place';

/** How much an opening may differ from what was asked. */
export interface InspectLimits {
  readonly areaPercent: number;
  readonly sizeMm: number;
  readonly placeMm: number;
}

/** One opening of a stencil, asked and found; sizes along its own sides, mm of the artwork. */
export interface InspectedOpening {
  readonly number: number;
  readonly asked: { readonly widthMm: number; readonly heightMm: number; readonly areaMm2: number };
  /** Its middle as asked. */
  readonly at: Point;
  readonly widthMm?: number;
  readonly heightMm?: number;
  readonly areaMm2?: number;
  /** How far its middle lies from where it should, after the whole stencil was laid upon the artwork. */
  readonly offMm?: number;
  readonly faults: readonly SeenFault[];
  /** The opening it has grown together with. */
  readonly bridgedWith?: number;
  /** Outside of the picture. */
  readonly unseen?: boolean;
  readonly ring: readonly Point[];
}

const RAGGED_MM = 0.03;
/** So much of the area, and no more, is there of an opening that did not come through. */
const CLOSED_SHARE = 0.2;
const PARTLY_SHARE = 0.8;
/** A tear doesn't move half of a wall so long. */
const LONG_MM = 0.6;

/** @param beside - how far its place lies from where the stencil as a whole has it, mm; undefined where too few tell that */
export function judged(
  base: Omit<InspectedOpening, 'faults'>,
  perimeterMm: number,
  found: MeasuredOpening,
  beside: Point | undefined,
  limits: InspectLimits,
): InspectedOpening {
  const { areaMm2, widthMm, heightMm, bridgedWith } = found;
  if (found.cutOff) return { ...base, faults: [], unseen: true };
  if (areaMm2 < CLOSED_SHARE * base.asked.areaMm2) return { ...base, areaMm2, faults: ['missing'] };
  const one = {
    ...{ ...base, areaMm2, widthMm, heightMm },
    offMm: beside && found.beside && Math.hypot(beside[0] + found.beside[0], beside[1] + found.beside[1]),
    bridgedWith: bridgedWith === undefined ? undefined : bridgedWith + 1,
  };
  return { ...one, faults: faultsOf(one, perimeterMm, found, limits) };
}

function faultsOf(
  { asked, areaMm2 = 0, widthMm, heightMm, offMm = 0, bridgedWith }: Omit<InspectedOpening, 'faults'>,
  perimeterMm: number,
  { drawn, raggedMm, slit, divided, tear, bite, beside }: MeasuredOpening,
  { areaPercent, sizeMm, placeMm }: InspectLimits,
): SeenFault[] {
  if (bridgedWith !== undefined) return ['bridged'];
  // What has no place was not all there.
  if (divided || widthMm === undefined || heightMm === undefined || !beside) return ['partly closed'];
  // What no beam makes of an opening is no fault: less is right, down to what it does make.
  const right = (got: number, of: keyof MeasuredSizes): number => (got < asked[of] ? Math.min(asked[of], Math.max(got, drawn[of])) : asked[of]); // biome-ignore format: one thought
  const wanted = right(areaMm2, 'areaMm2');
  const share = areaMm2 / wanted;
  // A speck at the wall of a small opening is a large part of its area: both must say so.
  const far = Math.abs(share - 1) > areaPercent / 100 && Math.abs(areaMm2 - wanted) > 0.012 * perimeterMm;
  const off = [widthMm - right(widthMm, 'widthMm'), heightMm - right(heightMm, 'heightMm')];
  const size = Math.abs(off[0]) > Math.abs(off[1]) ? off[0] : off[1];
  if (far && share < PARTLY_SHARE) return ['partly closed'];
  // Walls that lie farther out are no tear, however much they are of a small opening; of short ones, all of them.
  const even = Math.min(...off);
  const [across, upwards] = [asked.heightMm, asked.widthMm].map((wall, k) => wall * (wall > LONG_MM ? off[k] : even));
  const grown = ((across + upwards) * perimeterMm) / (2 * (asked.widthMm + asked.heightMm));
  const isTorn = slit || tear || areaMm2 - wanted > 2 * grown;
  if (far && share > 1 && Math.abs(size) < sizeMm && isTorn) return ['torn'];
  if (far || Math.abs(size) > sizeMm) return [(far ? share < 1 : size < 0) ? 'too small' : 'too large'];
  if (slit || raggedMm > RAGGED_MM) return ['torn'];
  if (offMm > placeMm) return ['out of place'];
  return tear ? ['torn'] : bite ? ['partly closed'] : [];
}

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

import { type FeaturesFile, isForJaws } from '../coupon/features.js';
import { InputError, type Problem, type Warning } from '../errors.js';
import type { Point } from '../geometry/types.js';
import { measureCoupon, type ScannedCoupon } from './measure-coupon.js';
import type { GreyPicture } from './picture.js';
import type { Openings } from './places.js';
import { type Recognised, Scene } from './recognise.js';
import { slantOf } from './slant.js';

/** A coupon that may be in the pictures. */
export interface KnownCoupon {
  readonly features: FeaturesFile;
  readonly openings: Openings;
}

export interface PictureResult {
  readonly coupons: readonly (ScannedCoupon & { readonly coupon: string })[];
  /** The whole picture, smaller, to be shown. */
  readonly overview: GreyPicture;
  readonly warnings: readonly Warning[];
}

/** Below this an opening of 0.1 mm is hardly a dot. */
const LEAST_DOTS_PER_MM = 11;
/** An overshoot of this share of the contrast is no noise: a driver has sharpened. */
const HALO = 0.04;
const CLIPPED_SHARE = 0.5;
/** Places that depart from an affine map by this, mm, are more than a laser's errors that a projective map takes away. */
const SLANTED_MM = 0.03;
const TAKEN_AWAY = 0.6;

/**
 * Finds and measures all coupons in one picture.
 *
 * @throws {InputError} SCAN_TOO_COARSE, SCAN_NO_COUPON, SCAN_SLANTED, SCAN_CLIPPED
 */
export function scanPicture(picture: GreyPicture, known: readonly KnownCoupon[], file: string): PictureResult {
  refuseCoarse(picture, file);
  const scene = new Scene(picture);
  const warnings: Warning[] = [];
  const found = scene.findAll(known.map(({ openings }) => openings));
  const coupons = known.flatMap(({ features, openings }, i) => {
    const recognised = found[i];
    if (!recognised) return [];
    refuseSlanted(recognised, openings, picture, file);
    // Between windows for jaws a picture sees no more than between slots.
    const seen = features.features.filter((feature) => !isForJaws(feature));
    const measured = measureCoupon(picture, seen, openings, recognised);
    const problem = problemOf(measured, file);
    if (problem) throw new InputError(problem);
    if (measured.sharpness.halo > HALO) warnings.push(sharpened(measured.sharpness.halo, file));
    return [{ ...measured, coupon: features.coupon }];
  });
  if (coupons.length === 0) throw new InputError(nothingFound(scene.blobCount, known, file));
  return { coupons, overview: scene.overview, warnings };
}

/** @throws {InputError} SCAN_TOO_COARSE */
export function refuseCoarse({ dotsPerMm }: GreyPicture, file: string): void {
  if (!dotsPerMm || Math.min(dotsPerMm.x, dotsPerMm.y) >= LEAST_DOTS_PER_MM) return;
  throw new InputError({
    code: 'SCAN_TOO_COARSE',
    place: { file },
    message: `${Math.round(25.4 * Math.min(dotsPerMm.x, dotsPerMm.y))} dots per inch are too few: an opening of 0.1 mm would be a single dot.`,
    hint: 'Scan at 1200 dpi or more; 600 gives half the sharpness.',
  });
}

/** A picture of a plane that no flatbed makes. @throws {InputError} SCAN_SLANTED */
export function refuseSlanted(
  { seenAt, map }: Recognised,
  openings: Openings,
  picture: GreyPicture,
  file: string,
): void {
  const pairs = seenAt.flatMap((at, i): [Point, Point][] => (at ? [[openings.stars[i].at, at]] : []));
  const slant = slantOf(pairs);
  const pxPerMm = picture.dotsPerMm ? Math.min(picture.dotsPerMm.x, picture.dotsPerMm.y) : Math.hypot(map.a, map.c);
  if (!slant || slant.affinePx < SLANTED_MM * pxPerMm || slant.perspectivePx > TAKEN_AWAY * slant.affinePx) return;
  const um = (px: number): string => `${Math.round((1000 * px) / pxPerMm)} um`;
  throw new InputError({
    code: 'SCAN_SLANTED',
    place: { file },
    message: `the openings lie as in a photograph taken at a slant: ${um(slant.affinePx)} off as a scan, ${um(slant.perspectivePx)} as a photograph.`,
    hint: 'Use a flatbed scanner, with the film flat on its glass.',
  });
}

function problemOf({ sharpness }: ScannedCoupon, file: string): Problem | undefined {
  if (sharpness.clipped <= CLIPPED_SHARE) return undefined;
  return {
    code: 'SCAN_CLIPPED',
    place: { file },
    message:
      'film or openings are cut off at the darkest or the brightest level, so the middle between them is not known.',
    hint: 'Scan without automatic levels, a little darker or lighter.',
  };
}

function sharpened(halo: number, file: string): Warning {
  return {
    code: 'SCAN_SHARPENED',
    place: { file },
    message: `the edges have a halo of ${Math.round(100 * halo)} % of the contrast: the scan was sharpened, and narrow openings may read wrong.`,
    hint: 'Turn off sharpening in the scanner’s program and scan again.',
  };
}

function nothingFound(blobs: number, known: readonly KnownCoupon[], file: string): Problem {
  const names = known.map(({ features }) => features.coupon).join(', ');
  return {
    code: 'SCAN_NO_COUPON',
    place: { file },
    message:
      blobs < 8
        ? `nothing like ${names} is in the picture: only ${blobs} things stand out from the film.`
        : `none of the ${blobs} things in the picture lie as the openings of ${names} do.`,
    hint: 'Check the features file (of the same bed and pitch), the resolution (--dpi), and that film and openings differ in brightness.',
  };
}

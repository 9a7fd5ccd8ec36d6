import { Matrix, SVD } from 'ml-matrix';
import { type FeaturesFile, isForJaws } from '../coupon/features.js';
import { InputError, type Problem, type Warning, warningsIf } from '../errors.js';
import type { Point } from '../geometry/types.js';
import { squeezeOf } from './find/constellation.js';
import type { Openings } from './find/places.js';
import { type Recognised, Scene } from './find/recognise.js';
import type { Polarity } from './find/standing-out.js';
import { evenDots } from './measure/film-in-picture.js';
import { measureCoupon, type ScannedCoupon } from './measure/measure-coupon.js';
import { readRule, type ScannedRule } from './measure/rule.js';
import { HALO, isOutOfFocus, type Sharpness } from './measure/ruler.js';
import { fitAffine } from './picture/fit-affine.js';
import type { GreyPicture } from './picture/picture.js';
import { isResampled } from './picture/resampled.js';
import { medianOf } from './picture/robust.js';

/** A coupon that may be in the pictures. */
export interface KnownCoupon {
  readonly features: FeaturesFile;
  readonly openings: Openings;
}

export interface PictureResult {
  readonly coupons: readonly (ScannedCoupon & { readonly coupon: string })[];
  /** A rule that lies in the picture, where one is looked for. */
  readonly rule?: ScannedRule;
  /** The whole picture, smaller, to be shown. */
  readonly overview: GreyPicture;
  readonly warnings: readonly Warning[];
}

/** Below this an opening of 0.1 mm is hardly a dot. */
const LEAST_DOTS_PER_MM = 11;
const CLIPPED_SHARE = 0.5;
/** No scanner squeezes one axis by so much, nor does a laser whose steps are right. */
const SQUEEZED = 0.05;
/** No program sharpens edges by as much, as a share of the contrast. */
const DARK_WALLS = 0.5;
/** Places that depart from an affine map by this, mm, are more than a laser's errors that a projective map takes away. */
const SLANTED_MM = 0.03;
const SLIGHT_MM = 0.002;
const TAKEN_AWAY = 0.6;

/**
 * Finds and measures all coupons in one picture.
 *
 * @param rulePitchMm - distance between two lines of a rule that may lie in the picture, too
 * @throws {InputError} SCAN_TOO_COARSE, SCAN_NO_COUPON, SCAN_SLANTED, SCAN_CLIPPED
 */
export function scanPicture(
  picture: GreyPicture,
  known: readonly KnownCoupon[],
  file: string,
  rulePitchMm?: number,
): PictureResult {
  refuseCoarse(picture, file);
  const scene = new Scene(picture);
  const warnings = toldOfDots(picture, file);
  const found = scene.findAll(known.map(({ openings }) => openings));
  const coupons = known.flatMap(({ features, openings }, i) => {
    const recognised = found[i];
    if (!recognised) return [];
    refuseSqueezed(recognised, features.coupon, file);
    refuseSlanted(recognised, openings, picture, file);
    // Between windows for jaws a picture sees no more than between slots.
    const seen = features.features.filter((feature) => !isForJaws(feature));
    const measured = measureCoupon(picture, seen, openings, recognised);
    refuseClipped(measured, file);
    warnings.push(...toldOfLevels(measured.sharpness, picture, file), ...toldOfFilm(measured, features.coupon, file));
    return [{ ...measured, coupon: features.coupon }];
  });
  if (coupons.length === 0) throw new InputError(nothingFound(scene.blobCount, known, file));
  const dots = picture.dotsPerMm ?? evenDots(coupons[0].recognised.map);
  const ruleIn = (look: Polarity) => rulePitchMm && readRule(picture, scene.things(look), rulePitchMm, dots);
  return { coupons, rule: ruleIn('darker') || ruleIn('lighter') || undefined, overview: scene.overview, warnings };
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

/** Of a coupon for a bed of other proportions, too, nearly all openings lie as one would expect, but for that. */
function refuseSqueezed({ map }: Recognised, coupon: string, file: string): void {
  const squeeze = squeezeOf(map);
  if (Math.abs(squeeze) <= SQUEEZED) return;
  throw new InputError({
    code: 'SCAN_SQUEEZED',
    place: { file },
    message: `the openings of ${coupon} lie as if all were ${(100 * Math.abs(squeeze)).toFixed(1)} % ${squeeze > 0 ? 'longer' : 'shorter'} along X than along Y, more than a laser and a scanner are off by.`,
    hint: 'Look for a features file of another bed or pitch, a picture whose resolution differs along X and Y (--dpi), or a machine whose steps or dots per millimetre are set wrong along one axis: set these first, and cut anew.',
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
  if (!slant || slant.affine < SLANTED_MM * pxPerMm || slant.perspective > TAKEN_AWAY * slant.affine) return;
  throw new InputError({
    code: 'SCAN_SLANTED',
    place: { file },
    message: `the openings lie as in a photograph taken at a slant: ${um(slant.affine / pxPerMm)} off as a scan, ${um(slant.perspective / pxPerMm)} as a photograph.`,
    hint: 'Use a flatbed scanner, with the film flat on its glass.',
  });
}

function refuseClipped({ sharpness }: ScannedCoupon, file: string): void {
  if (sharpness.clipped <= CLIPPED_SHARE) return;
  throw new InputError({
    code: 'SCAN_CLIPPED',
    place: { file },
    message:
      'film or openings are cut off at the darkest or the brightest level, so the middle between them is not known.',
    hint: 'Scan without automatic levels, a little darker or lighter.',
  });
}

/** What a scanner's program did to the number of dots. */
export const toldOfDots = (picture: GreyPicture, file: string): Warning[] =>
  warningsIf(file, [
    [
      isResampled(picture),
      'SCAN_RESAMPLED',
      'a program has made the picture larger or smaller: its dots are made up from those that the scanner saw, so it is no sharper than these, and edges may be off by as much as half of one.',
      'Scan at the resolution that the scanner’s glass has (optical, not interpolated).',
    ],
  ]);

/** Share of a normal distribution between 10 and 90 %, in standard deviations. */
const RISE = 2.563;
/** Up to so many standard deviations of its edges a square or a circle is mostly blur, and by how much its size then scatters, 1/mm. */
const MOSTLY_BLUR = 4;
const SCATTER = 1.3;

/** What a scanner's program did to the levels. Figures are those of simulated scans. */
export function toldOfLevels(sharpness: Sharpness, { dotsPerMm }: GreyPicture, file: string): Warning[] {
  const { halo, sigmaMm, tone } = sharpness;
  const dotMm = dotsPerMm ? 1 / Math.min(dotsPerMm.x, dotsPerMm.y) : 0;
  const { gamma, shiftMm, uShiftMm } = tone ?? { gamma: 1, shiftMm: 0, uShiftMm: 0 };
  return warningsIf(file, [
    [
      halo > DARK_WALLS,
      'SCAN_WALLS_SHOW',
      `walls show as dark lines, ${halo.toFixed(1)} times as strong as what film and openings differ by: openings may read 0.1 mm too narrow, and webs as much too wide.`,
      'Lay a sheet behind the film against which openings look as it does, so that it is read by its walls, or rub a black marker over it after cutting.',
    ],
    [
      halo > HALO && halo <= DARK_WALLS,
      'SCAN_SHARPENED',
      `the edges have a halo of ${Math.round(100 * halo)} % of the contrast: the scan was sharpened, and narrow openings may read wrong.`,
      'Turn off sharpening in the scanner’s program and scan again.',
    ],
    [
      tone,
      'SCAN_TONE',
      `the levels are bent for the eye (gamma about ${gamma.toFixed(1)}), which moves each edge by ${Math.abs(1000 * shiftMm).toFixed(0)} µm: that was undone, to about ${(1000 * uShiftMm).toFixed(0)} µm.`,
      'Scan with gamma 1, or read one opening with a loupe and give it (--reference LA9=2.11).',
    ],
    [
      isOutOfFocus(sharpness, dotMm),
      'SCAN_OUT_OF_FOCUS',
      `edges are ${(1000 * RISE * sigmaMm).toFixed(0)} µm wide (from 10 to 90 %), where a flatbed in focus has at most about 120: slots are still read by the area under their profile, but squares and circles under ${(MOSTLY_BLUR * sigmaMm).toFixed(2)} mm may be off by about ${(1e3 * SCATTER * sigmaMm ** 2).toFixed(0)} µm.`,
      'Press the film flat on the glass with a plate, clean the glass, and scan again.',
    ],
  ]);
}

function toldOfFilm({ marks, recognised }: ScannedCoupon, coupon: string, file: string): Warning[] {
  const slant = slantOf(marks.map(({ at, seen }) => [at, seen])) ?? { affine: 0, perspective: 0 };
  return warningsIf(file, [
    [
      // Far less than what is refused: the marks are read to a micrometre.
      slant.affine >= SLIGHT_MM && slant.perspective <= TAKEN_AWAY * slant.affine,
      'SCAN_SLIGHT_SLANT',
      `the places narrow to one side as in a photograph: ${um(slant.affine)} off as a scan, ${um(slant.perspective)} as a photograph.`,
      'Lay the film flat on the glass of a flatbed scanner. If it was, the laser’s bed does that: scan the film turned by 90 degrees too.',
    ],
    [
      recognised.twice,
      'SCAN_TWICE',
      `more than one ${coupon} lies in the picture: only one of them was read.`,
      'Scan films of the same coupon in pictures, and runs, of their own; scan.html shows which one it was.',
    ],
  ]);
}

const um = (mm: number): string => `${(1000 * mm).toFixed(1)} µm`;

function nothingFound(blobs: number, known: readonly KnownCoupon[], file: string): Problem {
  const names = known.map(({ features }) => features.coupon).join(', ');
  return {
    code: 'SCAN_NO_COUPON',
    place: { file },
    message:
      blobs < 8
        ? `nothing like ${names} is in the picture: only ${blobs} things stand out from the film.`
        : `none of the ${blobs} things in the picture lie as the openings of ${names} do.`,
    hint: 'Check the features file (of the same bed and pitch), the resolution (--dpi), that the whole film is in the picture, that film and openings differ in brightness, and that X and Y of the machine are right to some percent.',
  };
}

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

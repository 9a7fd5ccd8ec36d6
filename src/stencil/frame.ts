import { InputError, type Warning } from '../errors.js';
import { invert, mapRing } from '../geometry/affine.js';
import { boundsOf, ringBounds } from '../geometry/bounds.js';
import { rectangle } from '../geometry/shapes.js';
import type { Box, Opening, PerAxis, Point, Size } from '../geometry/types.js';
import type { Corrected } from '../machine/correct-openings.js';
import { machineMap } from '../machine/machine-model.js';
import type { MachineModel } from '../machine/types.js';

/** The canvas, commanded mm, and where its lower left corner lies in the corrected openings' coordinates. */
export interface Frame {
  readonly canvas: Size;
  readonly originMm: readonly [number, number];
}

/** Where dots lie: how far apart, and by how much the first one's middle lies beyond half of that, mm. */
export interface DotPhase {
  readonly dotMm: PerAxis;
  readonly beyondMm: PerAxis;
}

/** Where to put corrected openings. */
export interface FrameOptions {
  /** Free film around the openings, mm; default 5. */
  readonly marginMm?: number;
  /** A fixed canvas, commanded mm: as many whole dots as it holds, as of coupons, so that no image is larger. Not given: the openings and the margin. */
  readonly canvas?: Size;
  /** Where the lower left corner of the openings goes on a fixed canvas, commanded mm. Not given: in the middle. */
  readonly atMm?: PerAxis;
}

/** Free film around openings where nobody says how much, mm. */
export const DEFAULT_MARGIN_MM = 5;

/** A length filled up to whole dots; one that is a whole number but for rounding noise stays. */
const wholeDots = (mm: number, pitch: number): number => Math.ceil(mm / pitch - 1e-6) * pitch;

/** What whole dots take of a length. */
const dotsWithin = (mm: number, pitch: number): number => Math.floor(mm / pitch + 1e-6) * pitch;

/**
 * Where openings begin within a dot: their box lies in the middle of the dots that hold it. The same on every canvas, so
 * that margin, canvas and sheet change no dot.
 */
const phaseOf = (mm: number, pitch: number): number => (wholeDots(mm, pitch) - mm) / 2;

/** The corner of a dot by which openings lie on the lattice of dots: openings that have it alike get equal dots. */
export function dotCorner(openings: readonly Opening[], pitchMm: PerAxis): Point | undefined {
  const box = boundsOf(openings);
  return (
    box && [box.minX - phaseOf(box.maxX - box.minX, pitchMm.x), box.minY - phaseOf(box.maxY - box.minY, pitchMm.y)]
  );
}

/** Beds are named by round numbers. */
const BED_SHARE = 1.01;

/** Says so where a canvas is larger than what the machine reaches. @param bed - film mm; @param rotateDeg - as it was turned */
export function beyondBed(
  { canvas: { widthMm, heightMm } }: Frame,
  { scaleX, scaleY }: Pick<MachineModel, 'scaleX' | 'scaleY'>,
  bed: Size | undefined,
  rotateDeg = 0,
): Warning[] {
  const film = { widthMm: scaleX * widthMm, heightMm: scaleY * heightMm };
  const isWithin = (width: number, height: number): boolean =>
    !bed || (width <= BED_SHARE * bed.widthMm && height <= BED_SHARE * bed.heightMm);
  if (!bed || isWithin(film.widthMm, film.heightMm)) return [];
  const turned = isWithin(film.heightMm, film.widthMm)
    ? `Turn it (--rotate ${(rotateDeg + 90) % 180})`
    : 'Take less margin or fewer pieces';
  return [
    {
      code: 'BEYOND_BED',
      message: `the canvas is ${film.widthMm.toFixed(1)} x ${film.heightMm.toFixed(1)} mm on the film, and the bed ${bed.widthMm} x ${bed.heightMm} mm: the machine can’t reach all of it.`,
      hint: `${turned}, or correct the bed in apertrue.json.`,
    },
  ];
}

/** The place nearest to the wanted one at which openings are in phase and, if they fit at all, on the canvas. */
function inPhase(wantedMm: number, phaseMm: number, pitch: number, roomMm: number): number {
  const nearest = phaseMm + Math.round((wantedMm - phaseMm) / pitch) * pitch;
  const fits = (mm: number): boolean => mm >= 0 && mm <= roomMm;
  return [nearest, nearest + pitch, nearest - pitch].find(fits) ?? wantedMm;
}

/**
 * The canvas around corrected openings.
 *
 * @param openings - commanded mm
 * @throws {InputError} CANVAS_TOO_SMALL
 */
export function frameAround(
  openings: readonly Opening[],
  { dotMm: pitchMm, beyondMm }: DotPhase,
  { marginMm = DEFAULT_MARGIN_MM, canvas: given, atMm }: FrameOptions,
): Frame {
  const box: Box = boundsOf(openings) ?? { minX: 0, minY: 0, maxX: 0, maxY: 0 };
  const width = box.maxX - box.minX;
  const height = box.maxY - box.minY;
  const phase = { x: phaseOf(width, pitchMm.x) + beyondMm.x, y: phaseOf(height, pitchMm.y) + beyondMm.y };
  if (!given) {
    // A dot of room on each side for the rounding to whole dots.
    const dots = { x: Math.ceil(marginMm / pitchMm.x) + 1, y: Math.ceil(marginMm / pitchMm.y) + 1 };
    return {
      canvas: {
        widthMm: wholeDots(width, pitchMm.x) + 2 * dots.x * pitchMm.x,
        heightMm: wholeDots(height, pitchMm.y) + 2 * dots.y * pitchMm.y,
      },
      originMm: [box.minX - phase.x - dots.x * pitchMm.x, box.minY - phase.y - dots.y * pitchMm.y],
    };
  }
  const canvas = { widthMm: dotsWithin(given.widthMm, pitchMm.x), heightMm: dotsWithin(given.heightMm, pitchMm.y) };
  const wanted = atMm ?? { x: (canvas.widthMm - width) / 2, y: (canvas.heightMm - height) / 2 };
  const lowerLeft = {
    x: inPhase(wanted.x, phase.x, pitchMm.x, canvas.widthMm - width),
    y: inPhase(wanted.y, phase.y, pitchMm.y, canvas.heightMm - height),
  };
  const over = {
    x: Math.max(width - canvas.widthMm, lowerLeft.x + width - canvas.widthMm, -lowerLeft.x),
    y: Math.max(height - canvas.heightMm, lowerLeft.y + height - canvas.heightMm, -lowerLeft.y),
  };
  if (over.x > 1e-9 || over.y > 1e-9) {
    throw new InputError({
      code: 'CANVAS_TOO_SMALL',
      message: `the openings take ${width.toFixed(3)} x ${height.toFixed(3)} mm as told to the machine and reach beyond the canvas of ${given.widthMm} x ${given.heightMm} mm by ${Math.max(over.x, 0).toFixed(3)} mm across X and ${Math.max(over.y, 0).toFixed(3)} mm across Y; it holds ${canvas.widthMm.toFixed(3)} x ${canvas.heightMm.toFixed(3)} mm of whole dots.`,
      hint: 'Give a larger --canvas-mm, another --at-mm, or turn the stencil with --rotate 90.',
    });
  }
  return { canvas, originMm: [box.minX - lowerLeft.x, box.minY - lowerLeft.y] };
}

/** @throws {InputError} CANVAS_TOO_SMALL when openings that were moved on the bed leave the canvas */
export function refuseOutside(corrected: Corrected, { canvas, originMm: [x, y] }: Frame): Corrected {
  const box = boundsOf(corrected.openings);
  if (!box) return corrected;
  const over = Math.max(x - box.minX, y - box.minY, box.maxX - x - canvas.widthMm, box.maxY - y - canvas.heightMm);
  if (over <= 1e-9) return corrected;
  throw new InputError({
    code: 'CANVAS_TOO_SMALL',
    message: `openings that are moved for the bends of the bed reach beyond the canvas of ${canvas.widthMm.toFixed(3)} x ${canvas.heightMm.toFixed(3)} mm by ${over.toFixed(3)} mm.`,
    hint: 'Place them further inside, or give a larger --canvas-mm.',
  });
}

/**
 * The canvas that makes a sheet of film of this size, mm.
 *
 * @param inPhaseWith - corrected openings that get the dots which they have alone
 */
export function frameOfSheet(
  { widthMm, heightMm }: Size,
  model: MachineModel,
  pitchMm: PerAxis,
  inPhaseWith: readonly Opening[],
): Frame {
  const sheet = ringBounds(mapRing(invert(machineMap(model)), rectangle(0, 0, widthMm, heightMm)));
  const corner = dotCorner(inPhaseWith, pitchMm);
  const begin = (least: number, at: number, pitch: number): number => at - Math.ceil((at - least) / pitch) * pitch;
  const x = corner ? begin(sheet.minX, corner[0], pitchMm.x) : sheet.minX;
  const y = corner ? begin(sheet.minY, corner[1], pitchMm.y) : sheet.minY;
  return {
    canvas: { widthMm: wholeDots(sheet.maxX - x, pitchMm.x), heightMm: wholeDots(sheet.maxY - y, pitchMm.y) },
    originMm: [x, y],
  };
}

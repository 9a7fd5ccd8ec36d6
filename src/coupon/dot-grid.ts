import { InputError } from '../errors.js';
import type { Box, Point } from '../geometry/types.js';
import type { CouponOptions } from './types.js';

export type Axis = 'x' | 'y';

/** Turns what lies along an axis and across it into x and y; and back, which is the same. */
export function courseAlong(axis: Axis) {
  const point = (s: number, t: number): [number, number] => (axis === 'x' ? [s, t] : [t, s]);
  const across: Axis = axis === 'x' ? 'y' : 'x';
  /** Of letters that run along it. */
  const turnDeg: 0 | 90 = axis === 'x' ? 0 : 90;
  const box = (from: Point, to: Point): Box => {
    const [[minX, minY], [maxX, maxY]] = [point(...from), point(...to)];
    return { minX, minY, maxX, maxY };
  };
  return { across, turnDeg, point, box };
}

const MIN_PITCH_MM = 0.005;
const MAX_PITCH_MM = 0.5;
const MAX_BED_MM = 2000;

/** Takes away what doubles add to a multiple of the pitch; a picometre is far below any laser. */
export const tidyMm = (mm: number): number => Math.round(mm * 1e9) / 1e9;

/** The dots that the machine can address. Whole numbers inside, mm at the edges. */
export type DotGrid = ReturnType<typeof dotGrid>;

function checkLength(name: string, value: number, min: number, max: number): void {
  if (Number.isFinite(value) && value >= min && value <= max) return;
  throw new InputError({
    code: 'COUPON_OPTION',
    place: { key: name },
    message: `expected a number from ${min} to ${max} mm; found ${value}.`,
    hint: name.startsWith('pitch')
      ? 'The pitch is 25.4 divided by the dots per inch: 1000 dpi is 0.0254 mm.'
      : 'Give the size of the bed or of the film in mm.',
  });
}

/** @throws {InputError} COUPON_OPTION */
export function dotGrid({ widthMm, heightMm, pitchXMm, pitchYMm = pitchXMm }: CouponOptions) {
  checkLength('widthMm', widthMm, 1, MAX_BED_MM);
  checkLength('heightMm', heightMm, 1, MAX_BED_MM);
  checkLength('pitchXMm', pitchXMm, MIN_PITCH_MM, MAX_PITCH_MM);
  checkLength('pitchYMm', pitchYMm, MIN_PITCH_MM, MAX_PITCH_MM);
  const pitch = (axis: Axis): number => (axis === 'x' ? pitchXMm : pitchYMm);
  const mm = (axis: Axis, dots: number): number => tidyMm(dots * pitch(axis));
  return {
    // A hair of room, so that 150 / 0.05 is 3000 and not 2999.
    columns: Math.floor(widthMm / pitchXMm + 1e-6),
    rows: Math.floor(heightMm / pitchYMm + 1e-6),
    pitch,
    /** Nearest dot boundary. */
    dots: (axis: Axis, lengthMm: number): number => Math.round(lengthMm / pitch(axis)),
    /** Nearest whole number of dots, at least one. */
    count: (axis: Axis, lengthMm: number): number => Math.max(1, Math.round(lengthMm / pitch(axis))),
    mm,
    boxMm: ({ minX, minY, maxX, maxY }: Box): Box => ({
      minX: mm('x', minX),
      minY: mm('y', minY),
      maxX: mm('x', maxX),
      maxY: mm('y', maxY),
    }),
  };
}

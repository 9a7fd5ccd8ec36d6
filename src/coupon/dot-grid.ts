import { InputError } from '../errors.js';
import type { CouponCanvas, CouponOptions } from './types.js';

export type Axis = 'x' | 'y';

const MIN_PITCH_MM = 0.005;
const MAX_PITCH_MM = 0.5;
const MAX_BED_MM = 2000;

/** Takes away what doubles add to a multiple of the pitch; a picometre is far below any laser. */
export const tidyMm = (mm: number): number => Math.round(mm * 1e9) / 1e9;

/** The dots that the machine can address. Whole numbers inside, mm at the edges. */
export interface DotGrid {
  readonly columns: number;
  readonly rows: number;
  pitch(axis: Axis): number;
  /** Nearest dot boundary. */
  dots(axis: Axis, mm: number): number;
  /** Nearest whole number of dots, at least one. */
  count(axis: Axis, mm: number): number;
  mm(axis: Axis, dots: number): number;
}

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
export function dotGrid({ widthMm, heightMm, pitchXMm, pitchYMm = pitchXMm }: CouponOptions): DotGrid {
  checkLength('widthMm', widthMm, 1, MAX_BED_MM);
  checkLength('heightMm', heightMm, 1, MAX_BED_MM);
  checkLength('pitchXMm', pitchXMm, MIN_PITCH_MM, MAX_PITCH_MM);
  checkLength('pitchYMm', pitchYMm, MIN_PITCH_MM, MAX_PITCH_MM);
  const pitch = (axis: Axis): number => (axis === 'x' ? pitchXMm : pitchYMm);
  return {
    // A hair of room, so that 150 / 0.05 is 3000 and not 2999.
    columns: Math.floor(widthMm / pitchXMm + 1e-6),
    rows: Math.floor(heightMm / pitchYMm + 1e-6),
    pitch,
    dots: (axis, mm) => Math.round(mm / pitch(axis)),
    count: (axis, mm) => Math.max(1, Math.round(mm / pitch(axis))),
    mm: (axis, dots) => tidyMm(dots * pitch(axis)),
  };
}

export function canvasOf(grid: DotGrid): CouponCanvas {
  return {
    widthMm: grid.mm('x', grid.columns),
    heightMm: grid.mm('y', grid.rows),
    pitchXMm: grid.pitch('x'),
    pitchYMm: grid.pitch('y'),
    widthPx: grid.columns,
    heightPx: grid.rows,
  };
}

import type { Rounding } from '../export/types.js';
import type { Affine, Region } from '../geometry/types.js';
import { areaTrue } from './area-true.js';
import { type Bitmap, emptyBitmap, paint } from './bitmap.js';
import { roundingOf, type Wanted } from './rounding.js';
import { type PixelShape, toPixelShapes } from './shape.js';
import { sizeOf } from './shape-classes.js';
import { type Placed, stampByCentres } from './stamp.js';

export interface RasteriseOptions {
  /** Size of the canvas in dots. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** From the openings' coordinates to dots: column to the right, row down from the upper edge. */
  readonly toPixels: Affine;
  /** Size of a dot, mm; only for the figures that come back in mm. */
  readonly dot: { readonly x: number; readonly y: number };
  readonly rounding?: 'area-true' | 'snapped';
  /** Full widths by which the beam widens what it burns across the image's X and Y, mm. See {@link stairsFor}. */
  readonly kerfMm?: { readonly x: number; readonly y: number };
}

export interface Dots {
  /** One for each opening, in their order. */
  readonly placed: readonly Placed[];
  readonly rounding: Rounding;
}

/** Chooses the dots that are burnt for each opening. */
export function dotsOf(openings: readonly Region[], options: RasteriseOptions): Dots {
  const shapes = toPixelShapes(openings, options.toPixels);
  if (options.rounding === 'snapped') {
    const placed = shapes.map(stampByCentres);
    return { placed, rounding: roundingOf(shapes, shapes.map(asDrawn), placed, options.dot, 0) };
  }
  const canvas = { x: options.widthPx, y: options.heightPx };
  const { placed, wanted, maxWebDeficit } = areaTrue(shapes, options.dot, options.kerfMm, canvas);
  return { placed, rounding: roundingOf(shapes, wanted, placed, options.dot, maxWebDeficit) };
}

const asDrawn = (shape: PixelShape): Wanted => ({
  area: shape.area,
  burntArea: shape.area,
  ...sizeOf(shape),
});

/** Burns stamps onto an empty canvas. */
export function burn(placed: readonly Placed[], widthPx: number, heightPx: number): Bitmap {
  const bitmap = emptyBitmap(widthPx, heightPx);
  for (const one of placed) paint(bitmap, one);
  return bitmap;
}

/**
 * Openings as a 1-bit image in memory.
 *
 * @param openings - mm, y up
 * @returns burnt dots are 1; row 0 is the upper one
 */
export function rasterise(openings: readonly Region[], options: RasteriseOptions): Bitmap {
  return burn(dotsOf(openings, options).placed, options.widthPx, options.heightPx);
}

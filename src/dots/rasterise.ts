import type { Affine, PerAxis, Region } from '../geometry/types.js';
import { areaTrue, type Standing } from './area-true.js';
import { type Bitmap, emptyBitmap, paint } from './bitmap.js';
import { type Nearness, type Rounding, roundingOf } from './rounding.js';
import { type PixelShape, toPixelShapes } from './shape.js';
import { type PlacedStamp, stampByCentres } from './stamp.js';

export interface RasteriseOptions {
  /** Size of the canvas in dots. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** From the openings' coordinates to dots: column to the right, row down from the upper edge. */
  readonly toPixels: Affine;
  /** Size of a dot, mm; only for the figures that come back in mm. */
  readonly dot: PerAxis;
  readonly rounding?: 'area-true' | 'snapped';
  /** Full widths by which the beam widens what it burns across the image's X and Y, mm. */
  readonly kerfMm?: PerAxis;
  /** What the openings are there for, by position. */
  readonly standing?: (index: number) => Standing;
}

export interface Dots {
  /** One for each opening, in their order. */
  readonly placed: readonly PlacedStamp[];
  readonly rounding: Rounding;
}

/** Chooses the dots that are burnt for each opening. */
export function dotsOf(openings: readonly Region[], options: RasteriseOptions): Dots {
  const shapes = toPixelShapes(openings, options.toPixels);
  if (options.rounding === 'snapped') {
    const placed = shapes.map(stampByCentres);
    const nearness = shapes.map((shape, i) => asDrawn(shape, placed[i], options.dot));
    return { placed, rounding: roundingOf(shapes, nearness, placed) };
  }
  const canvas = { x: options.widthPx, y: options.heightPx };
  const { placed, fitted } = areaTrue(shapes, options.dot, options.kerfMm, canvas, options.standing);
  return { placed, rounding: roundingOf(shapes, fitted, placed) };
}

function asDrawn(shape: PixelShape, { stamp }: PlacedStamp, dot: RasteriseOptions['dot']): Nearness {
  return {
    areaErrorPercent: shape.area > 0 ? (100 * (stamp.count - shape.area)) / shape.area : 0,
    sideErrorsMm: [(stamp.width - shape.maxX + shape.minX) * dot.x, (stamp.height - shape.maxY + shape.minY) * dot.y],
  };
}

/** Burns stamps onto an empty canvas. */
export function burn(placed: readonly PlacedStamp[], widthPx: number, heightPx: number): Bitmap {
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

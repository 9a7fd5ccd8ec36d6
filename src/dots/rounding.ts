import type { PixelShape } from './shape.js';
import type { PlacedStamp } from './stamp.js';

/**
 * How near the pixels came to the polygons; with a kerf, what the beam makes of the pixels to what it would make of the
 * polygons. Signed errors count as pixels less polygon.
 */
export interface Rounding {
  readonly meanAbsAreaErrorPercent: number;
  readonly maxAbsAreaErrorPercent: number;
  /** Largest distance, along X or Y, between the centres of area of pixels and polygon, in dots. */
  readonly maxPositionErrorPx: number;
  /** Over the widths and heights of all openings, along their own sides, mm. */
  readonly rmsWidthErrorMm: number;
  readonly meanWidthErrorMm: number;
}

/** How far dots lie off along an axis: by the centre of area or, where that says nothing, as of a thin frame, by the box. */
export const placeError = (byArea: number, byBox: number): number =>
  Math.abs(byArea) > FRAME_DOTS && Math.abs(byBox) < Math.abs(byArea) ? byBox : byArea;

/** Centres of area that are this far off, in dots, are those of frames. */
export const FRAME_DOTS = 1;

/** How near one opening's dots come: what is burnt less what should be. */
export interface Nearness {
  readonly areaErrorPercent: number;
  /** Across its own two sides. */
  readonly sideErrorsMm: readonly number[];
}

/**
 * How near the dots come to the polygons.
 *
 * @param shapes - the openings, for their places
 */
export function roundingOf(
  shapes: readonly PixelShape[],
  nearness: readonly Nearness[],
  placed: readonly PlacedStamp[],
): Rounding {
  let [sumArea, maxArea, maxPosition, sides, sumWidth, sumWidth2] = [0, 0, 0, 0, 0, 0];
  shapes.forEach((shape, i) => {
    const { stamp, column, row } = placed[i];
    const area = Math.abs(nearness[i].areaErrorPercent);
    sumArea += area;
    maxArea = Math.max(maxArea, area);
    if (stamp.count > 0) {
      const byBoxX = column + (stamp.width - shape.minX - shape.maxX) / 2;
      const byBoxY = row + (stamp.height - shape.minY - shape.maxY) / 2;
      const dx = placeError(column + stamp.centreX - shape.centreX, byBoxX);
      const dy = placeError(row + stamp.centreY - shape.centreY, byBoxY);
      maxPosition = Math.max(maxPosition, Math.abs(dx), Math.abs(dy));
    }
    for (const error of nearness[i].sideErrorsMm) {
      sides += 1;
      sumWidth += error;
      sumWidth2 += error * error;
    }
  });
  return {
    meanAbsAreaErrorPercent: sumArea / Math.max(1, shapes.length),
    maxAbsAreaErrorPercent: maxArea,
    maxPositionErrorPx: maxPosition,
    rmsWidthErrorMm: Math.sqrt(sumWidth2 / Math.max(1, sides)),
    meanWidthErrorMm: sumWidth / Math.max(1, sides),
  };
}

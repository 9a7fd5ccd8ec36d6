import type { Rounding } from '../export/types.js';
import type { PixelShape } from './shape.js';
import type { Placed } from './stamp.js';

/** Sizes that dots stand for, in dots. */
export interface Wanted {
  readonly area: number;
  /** What area errors are a share of. */
  readonly burntArea: number;
  readonly width: number;
  readonly height: number;
}

/** Off by its centre of area or, where that says nothing, as of a thin frame, by its box. */
function placeError(byArea: number, byBox: number): number {
  return Math.abs(byArea) > FRAME_DOTS ? Math.min(Math.abs(byArea), Math.abs(byBox)) : Math.abs(byArea);
}

/** Centres of area that are this far off, in dots, are those of frames. */
export const FRAME_DOTS = 1;

/**
 * How near the dots come to the polygons.
 *
 * @param shapes - the openings, for their places
 * @param wanted - what the dots stand for, for sizes: the openings themselves, or drawn in for the beam
 */
export function roundingOf(
  shapes: readonly PixelShape[],
  wanted: readonly Wanted[],
  placed: readonly Placed[],
  dot: { readonly x: number; readonly y: number },
  maxWebDeficitPx: number,
): Rounding {
  let [sumArea, maxArea, maxPosition, sumWidth, sumWidth2] = [0, 0, 0, 0, 0];
  shapes.forEach((shape, i) => {
    const { stamp, column, row } = placed[i];
    const goal = wanted[i];
    const area = goal.burntArea > 0 ? (100 * Math.abs(stamp.count - goal.area)) / goal.burntArea : 0;
    sumArea += area;
    maxArea = Math.max(maxArea, area);
    if (stamp.count > 0) {
      const byBoxX = column + (stamp.width - shape.minX - shape.maxX) / 2;
      const byBoxY = row + (stamp.height - shape.minY - shape.maxY) / 2;
      const dx = placeError(column + stamp.centreX - shape.centreX, byBoxX);
      const dy = placeError(row + stamp.centreY - shape.centreY, byBoxY);
      maxPosition = Math.max(maxPosition, dx, dy);
    }
    const wide = (stamp.width - goal.width) * dot.x;
    const high = (stamp.height - goal.height) * dot.y;
    sumWidth += wide + high;
    sumWidth2 += wide * wide + high * high;
  });
  const n = Math.max(1, shapes.length);
  return {
    meanAbsAreaErrorPercent: sumArea / n,
    maxAbsAreaErrorPercent: maxArea,
    maxPositionErrorPx: maxPosition,
    rmsWidthErrorMm: Math.sqrt(sumWidth2 / (2 * n)),
    meanWidthErrorMm: sumWidth / (2 * n),
    maxWebDeficitPx,
  };
}

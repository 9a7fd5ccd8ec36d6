import { ringPerimeter } from '../../geometry/area.js';
import type { PixelOpening } from './trace/trace.js';

/**
 * How far edges are blurred, as the standard deviation of a Gaussian blur that would leave as much grey beside them.
 *
 * @param grey - what {@link greySum} says of the picture
 * @returns pixels; about 0.3 for edges that were drawn with clean smoothing, less for such without
 * @remarks The sum of c (1 - c) across an edge is 1/6 for a box of one pixel, and s/sqrt(pi) for a Gaussian of
 * standard deviation s: the integral of F (1 - F) over the normal distribution F. Noise counts as blur.
 */
export function edgeBlurPx(grey: number, openings: readonly PixelOpening[]): number {
  const edges = openings.reduce(
    (sum, { outer, islands }) => islands.reduce((s, ring) => s + ringPerimeter(ring), sum + ringPerimeter(outer)),
    0,
  );
  return edges > 0 ? (grey / edges) * Math.sqrt(Math.PI) : 0;
}

/**
 * Sum of c (1 - c) over all pixels of a picture.
 *
 * @param counts - how many pixels have each level
 * @param coverage - what each level stands for, 0 to 255; not given: the levels themselves
 */
export function greySum(counts: Float64Array, coverage?: Uint8Array): number {
  return counts.reduce((sum, count, level) => {
    const c = coverage ? coverage[level] : level;
    return sum + (count * c * (255 - c)) / 65_025;
  }, 0);
}

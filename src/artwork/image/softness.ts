import { ringPerimeter } from '../../geometry/area.js';
import { BLOCK, type CoverageMap, PAGE_BLOCKS } from '../trace/coverage-map.js';
import type { PixelOpening } from '../trace/trace.js';

/**
 * How far edges are blurred, as the standard deviation of a Gaussian blur that would leave as much grey beside them.
 *
 * @param map - coverage by light or by openings
 * @returns pixels; about 0.3 for edges that were drawn with clean smoothing, less for such without
 * @remarks The sum of c (1 - c) across an edge is 1/6 for a box of one pixel, and s/sqrt(pi) for a Gaussian of
 * standard deviation s: the integral of F (1 - F) over the normal distribution F. Noise counts as blur.
 */
export function edgeBlurPx(map: CoverageMap, openings: readonly PixelOpening[]): number {
  const edges = openings.reduce(
    (sum, { outer, islands }) => islands.reduce((s, ring) => s + ringPerimeter(ring), sum + ringPerimeter(outer)),
    0,
  );
  return edges > 0 ? (greySum(map) / edges) * Math.sqrt(Math.PI) : 0;
}

/** Sum of c (1 - c) over all pixels; rows that repeat share their blocks. */
function greySum({ blockOf, pages }: CoverageMap): number {
  const known = new Float64Array(pages.length * PAGE_BLOCKS).fill(-1);
  let sum = 0;
  for (const block of blockOf) {
    if (block === 0) continue;
    const n = block - 1;
    if (known[n] < 0) known[n] = ofBlock(pages[Math.floor(n / PAGE_BLOCKS)], (n % PAGE_BLOCKS) * BLOCK);
    sum += known[n];
  }
  return sum;
}

function ofBlock(page: Uint8Array, from: number): number {
  let sum = 0;
  for (let i = from; i < from + BLOCK; i += 1) sum += page[i] * (255 - page[i]);
  return sum / 65_025;
}

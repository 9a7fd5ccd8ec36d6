import type { Opening, Ring } from '../../../geometry/types.js';
import { coverageMapOf } from './coverage-builder.js';
import type { CoverageMap } from './coverage-map.js';
import { fitRing } from './fit-ring.js';
import { followRings } from './follow.js';
import { knownStairs } from './known-stairs.js';
import { outerOf } from './nest.js';
import { readingOrder } from './order.js';

/** An opening in pixels: y down, the upper left pixel's corner at the origin; rings in no set direction. */
export interface PixelOpening {
  readonly outer: Ring;
  readonly islands: readonly Ring[];
}

/**
 * Traces all openings of a coverage map, in reading order.
 *
 * @throws {InputError} IMAGE_TOO_BUSY for noise
 */
export function traceMap(map: CoverageMap): PixelOpening[] {
  const rings = followRings(map);
  const owner = outerOf(map, rings);
  const known = knownStairs();
  const byOuter = new Map<number, { outer: Ring; islands: Ring[] }>();
  rings.forEach((ring, i) => {
    const fitted = fitRing(map, ring, known);
    if (!ring.hole) byOuter.set(i, { outer: fitted, islands: [] });
    else byOuter.get(owner[i])?.islands.push(fitted);
  });
  return readingOrder([...byOuter.values()]);
}

/** Openings in millimetres, y up, lower left corner of the canvas at the origin. */
export function toMillimetres(
  openings: readonly PixelOpening[],
  heightPx: number,
  pixelMm: { readonly x: number; readonly y: number },
): Opening[] {
  const place = (ring: Ring, ccw: boolean): Ring => {
    const mm: [number, number][] = [];
    for (let i = 0; i < ring.length; i += 1) mm.push([ring[i][0] * pixelMm.x, (heightPx - ring[i][1]) * pixelMm.y]);
    return signed(mm) > 0 === ccw ? mm : mm.reverse();
  };
  return openings.map(({ outer, islands }) => ({
    outer: place(outer, true),
    islands: islands.map((ring) => place(ring, false)),
    tag: { drawn: 'traced' },
  }));
}

function signed(ring: Ring): number {
  let sum = 0;
  const [ox, oy] = ring[0];
  for (let i = 1; i + 1 < ring.length; i += 1)
    sum += (ring[i][0] - ox) * (ring[i + 1][1] - oy) - (ring[i + 1][0] - ox) * (ring[i][1] - oy);
  return sum;
}

/** Values of the bytes of an image where nothing and where all of a pixel is open. */
export interface GreyLevels {
  readonly film: number;
  readonly open: number;
}

/**
 * Traces an image in memory at sub-pixel accuracy: the contour where the coverage crosses one half.
 *
 * @param image - width x height bytes, row by row from the top; 0 film to 255 fully open. The levels are taken at their
 * word: with openings of 200 the contour would lie where the coverage is 64 %, and openings come out narrow. Give
 * `levels` for images whose blacks and whites are others.
 * @param pixelMm - size of a pixel, mm; X and Y may differ
 * @param levels - default film 0, open 255; film may be the larger one. Values beyond them count as film or open.
 * @returns openings in mm, y up, lower left corner of the image at the origin; top to bottom, left to right
 * @throws {InputError} IMAGE_TOO_BUSY when the image is noise
 */
export function traceGrey(
  image: { readonly width: number; readonly height: number; readonly data: Uint8Array },
  pixelMm: { readonly x: number; readonly y: number },
  levels: GreyLevels = { film: 0, open: 255 },
): Opening[] {
  const { film, open } = levels;
  const isFull = (film === 0 && open === 255) || film === open;
  const coverage = Uint8ClampedArray.from({ length: 256 }, (_, v) => ((v - film) * 255) / (open - film));
  const map = coverageMapOf(image.width, image.height, image.data, isFull ? undefined : coverage);
  return toMillimetres(traceMap(map), image.height, pixelMm);
}

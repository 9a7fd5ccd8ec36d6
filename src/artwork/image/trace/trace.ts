import { ringArea } from '../../../geometry/area.js';
import { ringBounds } from '../../../geometry/bounds.js';
import type { Opening, PerAxis, Ring } from '../../../geometry/types.js';
import { coverageMapOf } from './coverage-builder.js';
import type { CoverageMap } from './coverage-map.js';
import { fitRing } from './fit-ring.js';
import { followRings, isOpen, type PixelRing } from './follow.js';
import { knownStairs } from './known-stairs.js';

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
export function toMillimetres(openings: readonly PixelOpening[], heightPx: number, pixelMm: PerAxis): Opening[] {
  const place = (ring: Ring, ccw: boolean): Ring => {
    const mm: [number, number][] = [];
    for (let i = 0; i < ring.length; i += 1) mm.push([ring[i][0] * pixelMm.x, (heightPx - ring[i][1]) * pixelMm.y]);
    return ringArea(mm) > 0 === ccw ? mm : mm.reverse();
  };
  return openings.map(({ outer, islands }) => ({
    outer: place(outer, true),
    islands: islands.map((ring) => place(ring, false)),
    tag: { drawn: 'traced' },
  }));
}

/**
 * Traces an image in memory at sub-pixel accuracy: the contour where the coverage crosses one half.
 *
 * @param image - width x height bytes, row by row from the top; 0 film to 255 fully open
 * @param pixelMm - size of a pixel, mm; X and Y may differ
 * @returns openings in mm, y up, lower left corner of the image at the origin; top to bottom, left to right
 * @throws {InputError} IMAGE_TOO_BUSY when the image is noise
 */
export function traceGrey(
  image: { readonly width: number; readonly height: number; readonly data: Uint8Array },
  pixelMm: PerAxis,
): Opening[] {
  const map = coverageMapOf(image.width, image.height, image.data);
  return toMillimetres(traceMap(map), image.height, pixelMm);
}

/**
 * Puts openings (y down) in reading order: rows from top to bottom, left to right within a row. A row begins with the
 * highest centre left and takes every opening whose centre lies within half its height (or half its own, if smaller).
 */
function readingOrder<T extends { readonly outer: Ring }>(openings: readonly T[]): T[] {
  const placed = openings.map((opening) => {
    const box = ringBounds(opening.outer);
    return { opening, x: (box.minX + box.maxX) / 2, y: (box.minY + box.maxY) / 2, height: box.maxY - box.minY };
  });
  placed.sort((p, q) => p.y - q.y || p.x - q.x);
  const out: T[] = [];
  for (let from = 0; from < placed.length; ) {
    const first = placed[from];
    let to = from + 1;
    while (to < placed.length && placed[to].y - first.y <= Math.min(first.height, placed[to].height) / 2) to += 1;
    const row = placed.slice(from, to).sort((p, q) => p.x - q.x || p.y - q.y);
    for (const { opening } of row) out.push(opening);
    from = to;
  }
  return out;
}

/**
 * Which outer ring each hole belongs to. From a hole's first point, the run of covered pixels on its left starts at a
 * left edge of the outer ring or of a hole found earlier in the same opening.
 *
 * @returns per ring: the index of the outer ring (its own for outer rings)
 */
function outerOf(map: CoverageMap, rings: readonly PixelRing[]): Int32Array {
  const owner = Int32Array.from(rings, (_, i) => i);
  const wanted = new Map<number, number>();
  const width = map.words * 32;
  const keys = rings.map((ring) => {
    if (!ring.hole) return -1;
    const y = ring.ys[0];
    let x = ring.xs[0] - 1;
    while (x > 0 && !isOpen(map, x, y)) x -= 1;
    while (x > 0 && isOpen(map, x - 1, y)) x -= 1;
    const key = y * width + x;
    wanted.set(key, -1);
    return key;
  });
  if (wanted.size === 0) return owner;
  rings.forEach(({ xs, ys }, index) => {
    for (let i = 0; i < xs.length; i += 1) {
      const next = i + 1 === xs.length ? 0 : i + 1;
      if (ys[next] <= ys[i]) continue;
      const key = ys[i] * width + xs[i];
      if (wanted.has(key)) wanted.set(key, index);
    }
  });
  keys.forEach((key, index) => {
    const found = key < 0 ? undefined : wanted.get(key);
    if (found !== undefined && found >= 0) owner[index] = owner[found];
  });
  return owner;
}

import { simplifyRing } from '../../../geometry/simplify.js';
import type { Ring } from '../../../geometry/types.js';
import type { CoverageMap } from './coverage-map.js';
import { fitGrey } from './fit-grey.js';
import { fitStairs, stairs } from './fit-stairs.js';
import type { PixelRing } from './follow.js';
import type { KnownStairs } from './known-stairs.js';
import { flatArea } from './line.js';
import { sampleRing } from './samples.js';

/** Points that lie nearer to the line through their neighbours than this are dropped, pixels. */
const COLLINEAR_PX = 1e-3;
/** Most by which a left-out point may lie off the outline, pixels: at 0.02, discs stand out 0.01 px over their width. */
const TOLERANCE_PX = 0.012;
const FEW = 8;

/**
 * A pixel boundary as a polygon at sub-pixel accuracy, in pixels of the image (corner of the upper left pixel at the
 * origin, y down).
 */
export function fitRing(map: CoverageMap, ring: PixelRing, known: KnownStairs): Ring {
  const samples = sampleRing(map, ring);
  const isGrey = samples.greyCount >= Math.max(2, samples.count * 0.02);
  const fitted = (): Ring => {
    const points = tidy(samples.count < 3 ? [] : isGrey ? fitGrey(map, samples) : fitStairs(ring, samples));
    // A boundary too small to fit comes back as the pixels it is made of.
    const area = Math.abs(flatArea(points));
    const isTrusted = points.length >= 6 && area > 0.3 * ring.area - 2 && area < 2 * ring.area + 4 && area > 0;
    const placed = inImage(isTrusted ? points : tidy(stairs(ring)));
    return placed.length > FEW ? simplifyRing(placed, TOLERANCE_PX) : placed;
  };
  return isGrey ? fitted() : known.fit(ring, fitted);
}

/** From padded pixels to pixels of the image. */
function inImage(flat: readonly number[]): Ring {
  const ring: [number, number][] = [];
  for (let i = 0; i < flat.length; i += 2) ring.push([flat[i] - 32, flat[i + 1] - 1]);
  return ring;
}

/** Drops repeated points and those on a straight line. */
function tidy(flat: readonly number[]): number[] {
  const points: number[] = [];
  for (let i = 0; i < flat.length; i += 2) {
    const n = points.length;
    if (n === 0 || Math.abs(flat[i] - points[n - 2]) + Math.abs(flat[i + 1] - points[n - 1]) > 1e-6)
      points.push(flat[i], flat[i + 1]);
  }
  const kept: number[] = [];
  const m = points.length;
  for (let i = 0; i < m; i += 2) {
    const k = kept.length;
    const ax = k > 0 ? kept[k - 2] : points[m - 2];
    const ay = k > 0 ? kept[k - 1] : points[m - 1];
    const b = i + 2 === m ? 0 : i + 2;
    const [px, py] = [points[i] - ax, points[i + 1] - ay];
    const [ux, uy] = [points[b] - ax, points[b + 1] - ay];
    const base2 = ux * ux + uy * uy;
    const cross = px * uy - py * ux;
    const between = px * ux + py * uy;
    if (cross * cross > COLLINEAR_PX * COLLINEAR_PX * base2 || base2 === 0 || between < 0 || between > base2)
      kept.push(points[i], points[i + 1]);
  }
  return kept;
}

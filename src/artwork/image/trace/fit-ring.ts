import type { Ring } from '../../../geometry/types.js';
import { type CoverageMap, coverageAt } from './coverage-map.js';
import { fitGrey } from './fit-grey.js';
import { fitStairs } from './fit-stairs.js';
import type { PixelRing } from './follow.js';
import type { KnownStairs } from './known-stairs.js';
import { type Samples, sampleRing } from './samples.js';
import { enclosed, thinOut } from './thin-out.js';
import { traceUprightRectangle } from './upright-rectangle.js';

/** Points that lie nearer to the line through their neighbours than this are dropped, pixels. */
const COLLINEAR_PX = 1e-3;

/**
 * A pixel boundary as a polygon at sub-pixel accuracy, in pixels of the image (corner of the upper left pixel at the
 * origin, y down).
 */
export function fitRing(map: CoverageMap, ring: PixelRing, known: KnownStairs): Ring {
  const samples = sampleRing(map, ring);
  const isGrey = samples.greyCount >= Math.max(2, samples.count * 0.02);
  if (!isGrey) return known.fit(ring, () => fitted(map, ring, samples, false));
  const upright = traceUprightRectangle(map, ring, samples);
  if (upright) return placed(tidy(upright));
  return fitted(map, ring, samples, true);
}

function fitted(map: CoverageMap, ring: PixelRing, samples: Samples, isGrey: boolean): Ring {
  const flat = samples.count < 3 ? [] : isGrey ? fitGrey(map, samples) : fitStairs(ring, samples);
  const points = tidy(flat);
  if (isGrey) toCoverage(map, ring, points);
  // A boundary too small to fit comes back as the pixels it is made of.
  const area = Math.abs(enclosed(points));
  const trusted = points.length >= 6 && area > 0.3 * ring.area - 2 && area < 2 * ring.area + 4 && area > 0;
  return placed(trusted ? thinOut(points) : tidy(corners(ring)));
}

/** From padded pixels to pixels of the image. */
function placed(flat: readonly number[]): Ring {
  const ring: [number, number][] = [];
  for (let i = 0; i < flat.length; i += 2) ring.push([flat[i] - 32, flat[i + 1] - 1]);
  return ring;
}

/** Boundaries up to this long are scaled to the area that their pixels add up to, where they stand free. */
const SMALL_STEPS = 100;

/** Corrects a small boundary's area, in place, by the coverage in a box around it; not if anything else is in the box. */
function toCoverage(map: CoverageMap, ring: PixelRing, points: number[]): void {
  if (ring.xs.length > SMALL_STEPS || points.length < 6) return;
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < ring.xs.length; i += 1) {
    x0 = Math.min(x0, ring.xs[i] - 2);
    y0 = Math.min(y0, ring.ys[i] - 2);
    x1 = Math.max(x1, ring.xs[i] + 2);
    y1 = Math.max(y1, ring.ys[i] + 2);
  }
  if (y0 < 0 || x0 < 0 || y1 > map.height + 2 || x1 > map.words * 32) return;
  const around = ring.hole ? 255 : 0;
  let sum = 0;
  for (let y = y0; y < y1; y += 1)
    for (let x = x0; x < x1; x += 1) {
      const v = Math.abs(coverageAt(map, x, y) - around);
      if (v !== 0 && (x === x0 || y === y0 || x === x1 - 1 || y === y1 - 1)) return;
      sum += v;
    }
  const scale = Math.sqrt(sum / 255 / Math.abs(enclosed(points)));
  if (!(scale > 0.9 && scale < 1.1)) return;
  const [cx, cy] = [(x0 + x1) / 2, (y0 + y1) / 2];
  for (let i = 0; i < points.length; i += 2) {
    points[i] = cx + (points[i] - cx) * scale;
    points[i + 1] = cy + (points[i + 1] - cy) * scale;
  }
}

function corners(ring: PixelRing): number[] {
  const out: number[] = [];
  for (let i = 0; i < ring.xs.length; i += 1) out.push(ring.xs[i], ring.ys[i]);
  return out;
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

import { openingCentroid, ringArea } from '../../geometry/area.js';
import type { Ring } from '../../geometry/types.js';
import { type CoverageMap, coverageAt } from './coverage-map.js';
import { fitGrey } from './fit-grey.js';
import { fitStairs } from './fit-stairs.js';
import type { PixelRing } from './follow.js';
import type { KnownStairs } from './known-stairs.js';
import { type Samples, sampleRing } from './samples.js';
import { thinOut } from './thin-out.js';
import { uprightRectangle } from './upright-rectangle.js';

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
  const upright = uprightRectangle(map, ring, samples);
  if (upright) return placed(tidy(upright));
  return fitted(map, ring, samples, true);
}

function fitted(map: CoverageMap, ring: PixelRing, samples: Samples, isGrey: boolean): Ring {
  const flat = samples.count < 3 ? [] : isGrey ? fitGrey(map, samples) : fitStairs(ring, samples);
  const points = isGrey ? toCoverage(map, ring, tidy(flat)) : tidy(flat);
  // A boundary too small to fit comes back as the pixels it is made of.
  const area = Math.abs(ringArea(points));
  const trusted = points.length >= 3 && area > 0.3 * ring.area - 2 && area < 2 * ring.area + 4 && area > 0;
  const kept = trusted ? thinOut(points) : tidy(corners(ring));
  return placed(kept);
}

/** From padded pixels to pixels of the image. */
function placed(ring: Ring): Ring {
  return ring.map(([x, y]): [number, number] => [x - 32, y - 1]);
}

/** Boundaries up to this long are scaled to the area that their pixels add up to, where they stand free. */
const SMALL_STEPS = 100;

/** Corrects a small boundary's area by the coverage in a box around it; unchanged if anything else is in the box. */
function toCoverage(map: CoverageMap, ring: PixelRing, points: Ring): Ring {
  if (ring.xs.length > SMALL_STEPS || points.length < 3) return points;
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < ring.xs.length; i += 1) {
    x0 = Math.min(x0, ring.xs[i] - 2);
    y0 = Math.min(y0, ring.ys[i] - 2);
    x1 = Math.max(x1, ring.xs[i] + 2);
    y1 = Math.max(y1, ring.ys[i] + 2);
  }
  if (y0 < 0 || x0 < 0 || y1 > map.height + 2 || x1 > map.words * 32) return points;
  const around = ring.hole ? 255 : 0;
  let sum = 0;
  for (let y = y0; y < y1; y += 1)
    for (let x = x0; x < x1; x += 1) {
      const v = Math.abs(coverageAt(map, x, y) - around);
      if (v !== 0 && (x === x0 || y === y0 || x === x1 - 1 || y === y1 - 1)) return points;
      sum += v;
    }
  const scale = Math.sqrt(sum / 255 / Math.abs(ringArea(points)));
  if (!(scale > 0.9 && scale < 1.1)) return points;
  const [cx, cy] = openingCentroid({ outer: points, islands: [] });
  return points.map(([x, y]): [number, number] => [cx + (x - cx) * scale, cy + (y - cy) * scale]);
}

function corners(ring: PixelRing): number[] {
  const out: number[] = [];
  for (let i = 0; i < ring.xs.length; i += 1) out.push(ring.xs[i], ring.ys[i]);
  return out;
}

/** Drops repeated points and those on a straight line. */
function tidy(flat: readonly number[]): Ring {
  const points: [number, number][] = [];
  for (let i = 0; i < flat.length; i += 2) {
    const last = points[points.length - 1];
    if (!last || Math.hypot(flat[i] - last[0], flat[i + 1] - last[1]) > 1e-6) points.push([flat[i], flat[i + 1]]);
  }
  const kept: [number, number][] = [];
  for (let i = 0; i < points.length; i += 1) {
    const a = kept.length > 0 ? kept[kept.length - 1] : points[points.length - 1];
    const p = points[i];
    const b = points[(i + 1) % points.length];
    const ux = b[0] - a[0];
    const uy = b[1] - a[1];
    const base = Math.hypot(ux, uy);
    const away = base > 0 ? Math.abs((p[0] - a[0]) * uy - (p[1] - a[1]) * ux) / base : 1;
    const between = (p[0] - a[0]) * ux + (p[1] - a[1]) * uy;
    if (away > COLLINEAR_PX || between < 0 || between > base * base) kept.push(p);
  }
  return kept;
}

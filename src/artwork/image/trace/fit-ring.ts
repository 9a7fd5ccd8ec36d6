import type { Ring } from '../../../geometry/types.js';
import { type CoverageMap, coverageAt } from './coverage-map.js';
import { fitGrey } from './fit-grey.js';
import { fitStairs } from './fit-stairs.js';
import type { PixelRing } from './follow.js';
import type { KnownStairs } from './known-stairs.js';
import { type Samples, sampleRing } from './samples.js';
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

/** Most by which a left-out point may lie off the outline, pixels: at 0.02, discs stand out 0.01 px over their width. */
const TOLERANCE_PX = 0.012;
const FEW = 8;

/** Room for the points of one outline, used again for every outline. */
let room = { xs: new Float64Array(1024), ys: new Float64Array(1024), keep: new Uint8Array(1024) };

/**
 * Leaves out points that later steps need not carry (Douglas and Peucker 1973), and keeps the enclosed area: all points
 * move out a little.
 *
 * @param flat - x, y, x, y … of a closed outline
 */
function thinOut(flat: readonly number[]): readonly number[] {
  const n = flat.length >> 1;
  if (n <= FEW) return flat;
  if (room.xs.length <= n)
    room = { xs: new Float64Array(2 * n), ys: new Float64Array(2 * n), keep: new Uint8Array(2 * n) };
  const { xs, ys, keep } = room;
  // Closed at the leftmost point, which surely stays, as does the one farthest from it.
  let first = 0;
  for (let i = 1; i < n; i += 1) if (flat[2 * i] < flat[2 * first]) first = i;
  let far = 0;
  let reach = -1;
  for (let k = 0; k <= n; k += 1) {
    const i = first + k < n ? first + k : first + k - n;
    xs[k] = flat[2 * i];
    ys[k] = flat[2 * i + 1];
    const away = (xs[k] - xs[0]) ** 2 + (ys[k] - ys[0]) ** 2;
    if (away > reach) [reach, far] = [away, k];
  }
  keep.fill(0, 0, n + 1);
  keep[0] = 1;
  keep[far] = 1;
  keepWithin(0, far);
  keepWithin(far, n);
  const out: number[] = [];
  for (let k = 0; k < n; k += 1) if (keep[k] === 1) out.push(xs[k], ys[k]);
  return out.length < 6 || out.length === flat.length ? flat : withArea(out, enclosed(flat));
}

/** Marks the points between two that stay and that lie off the lines between those that stay. */
function keepWithin(from: number, to: number): void {
  const { xs, ys, keep } = room;
  const spans = [from, to];
  while (spans.length > 0) {
    const b = spans.pop() as number;
    const a = spans.pop() as number;
    const dx = xs[b] - xs[a];
    const dy = ys[b] - ys[a];
    const length2 = dx * dx + dy * dy;
    let worst = TOLERANCE_PX * TOLERANCE_PX;
    let at = -1;
    for (let k = a + 1; k < b; k += 1) {
      const px = xs[k] - xs[a];
      const py = ys[k] - ys[a];
      const t = length2 > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy) / length2)) : 0;
      const off = (px - t * dx) ** 2 + (py - t * dy) ** 2;
      if (off > worst) {
        worst = off;
        at = k;
      }
    }
    if (at < 0) continue;
    keep[at] = 1;
    spans.push(a, at, at, b);
  }
}

/** Moves every point along both its edges' normals until the outline encloses `area` again. */
function withArea(flat: readonly number[], area: number): readonly number[] {
  const m = flat.length;
  let length = 0;
  for (let i = 0; i < m; i += 2) {
    const j = i + 2 === m ? 0 : i + 2;
    length += Math.sqrt((flat[j] - flat[i]) ** 2 + (flat[j + 1] - flat[i + 1]) ** 2);
  }
  const by = (area - enclosed(flat)) / length;
  if (!(Math.abs(by) < 2 * TOLERANCE_PX)) return flat;
  const out: number[] = [];
  for (let i = 0; i < m; i += 2) {
    const a = i === 0 ? m - 2 : i - 2;
    const b = i + 2 === m ? 0 : i + 2;
    const [x, y] = [flat[i], flat[i + 1]];
    const [ax, ay, bx, by_] = [x - flat[a], y - flat[a + 1], flat[b] - x, flat[b + 1] - y];
    const p = Math.sqrt(ax * ax + ay * ay) || 1;
    const q = Math.sqrt(bx * bx + by_ * by_) || 1;
    const nx = ay / p + by_ / q;
    const ny = -ax / p - bx / q;
    const size2 = nx * nx + ny * ny;
    const step = size2 < 0.5 ? 0 : (2 * by) / size2;
    out.push(x + step * nx, y + step * ny);
  }
  return out;
}

/** Signed area about the first point, so that far-off shapes lose no digits. */
function enclosed(flat: readonly number[]): number {
  let twice = 0;
  for (let i = 2; i + 3 < flat.length; i += 2)
    twice += (flat[i] - flat[0]) * (flat[i + 3] - flat[1]) - (flat[i + 2] - flat[0]) * (flat[i + 1] - flat[1]);
  return twice / 2;
}

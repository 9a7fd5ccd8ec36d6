import { ringArea } from '../../../geometry/area.js';
import { regionBounds, ringBounds } from '../../../geometry/bounds.js';
import { boxIndex } from '../../../geometry/box-index.js';
import { copyAt, copyOf } from '../../../geometry/copies.js';
import { solid } from '../../../geometry/shapes.js';
import { simplifyRing } from '../../../geometry/simplify.js';
import type { Opening, PerAxis, Point, Region, Ring } from '../../../geometry/types.js';
import { insideRing } from '../../../geometry/walls.js';
import { kept } from '../../../kept.js';
import { type CoverageMap, coverageMapOf } from './coverage-map.js';
import { fitGrey } from './fit-grey.js';
import { fitSmall } from './fit-small.js';
import { fitStairs } from './fit-stairs.js';
import { followRings, type PixelRing, stairs } from './follow.js';
import { type Samples, sampleRing } from './samples.js';

/** An opening in pixels: y down, the upper left pixel's corner at the origin; rings in no set direction. */
export type PixelOpening = Region;

/**
 * Traces all openings of a coverage map, in reading order.
 *
 * @param asDots - the pixels themselves, not the shapes that they stand for
 * @throws {InputError} IMAGE_TOO_BUSY for noise
 */
export function traceMap(map: CoverageMap, asDots = false): PixelOpening[] {
  const rings = followRings(map);
  const owners = ownersOf(rings);
  const known: KnownStairs = new Map();
  const byOuter = new Map<number, { filled: Region; islands: Ring[] }>();
  rings.forEach((ring, i) => {
    const filled = asDots ? solid(inImage(tidy(stairs(ring)))) : fitRing(map, ring, known);
    if (!ring.hole) byOuter.set(i, { filled, islands: [] });
    else byOuter.get(owners.get(i) ?? -1)?.islands.push(filled.outer);
  });
  return readingOrder(
    Array.from(byOuter.values(), ({ filled, islands }) =>
      islands.length === 0 ? filled : { outer: filled.outer, islands },
    ),
  );
}

/** Openings in millimetres, y up, lower left corner of the canvas at the origin; copies stay copies. */
export function toMillimetres(
  openings: readonly PixelOpening[],
  heightPx: number,
  pixelMm: PerAxis,
  stepPx?: number,
): Opening[] {
  const place = (ring: Ring, ccw: boolean): Ring => {
    const mm: [number, number][] = [];
    for (let i = 0; i < ring.length; i += 1) mm.push([ring[i][0] * pixelMm.x, (heightPx - ring[i][1]) * pixelMm.y]);
    return ringArea(mm) > 0 === ccw ? mm : mm.reverse();
  };
  const stepMm = stepPx && stepPx * Math.max(pixelMm.x, pixelMm.y);
  const tag = { drawn: 'traced', ...(stepMm && { stepMm }) } as const;
  const placed = ({ outer, islands }: PixelOpening): Opening => ({
    outer: place(outer, true),
    islands: islands.map((ring) => place(ring, false)),
    tag,
  });
  const shapes = new Map<PixelOpening, Opening>();
  return openings.map((opening) => {
    const copy = copyOf(opening);
    if (!copy) return placed(opening);
    const shape = kept(shapes, copy.shape, () => placed(copy.shape));
    return copyAt(shape, copy.dx * pixelMm.x, -copy.dy * pixelMm.y, tag);
  });
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
function readingOrder(openings: readonly Region[]): Region[] {
  const placed = openings.map((opening) => {
    const box = regionBounds(opening);
    return { opening, x: (box.minX + box.maxX) / 2, y: (box.minY + box.maxY) / 2, height: box.maxY - box.minY };
  });
  placed.sort((p, q) => p.y - q.y || p.x - q.x);
  const out: Region[] = [];
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
 * Which outer ring each hole belongs to: the smallest one around the open pixel at its first point.
 *
 * @returns per hole: the number of the outer ring
 */
function ownersOf(rings: readonly PixelRing[]): Map<number, number> {
  const owners = new Map<number, number>();
  const holes = rings.flatMap(({ hole }, i) => (hole ? [i] : []));
  if (holes.length === 0) return owners;
  const outers = rings.flatMap(({ hole, xs, ys, area }, i) => {
    return hole ? [] : [{ i, xs, ys, area, box: ringBounds(stairs({ xs, ys })) }];
  });
  const index = boxIndex(outers, ({ box }) => box);
  for (const i of holes) {
    const [x, y] = [rings[i].xs[0] + 0.5, rings[i].ys[0] + 0.5];
    const around = index.near({ minX: x, minY: y, maxX: x, maxY: y }).map((k) => outers[k]);
    around.sort((p, q) => p.area - q.area);
    const owner = around.find((outer, k) => k === around.length - 1 || insideRing([x, y], stairs(outer)));
    if (owner) owners.set(i, owner.i);
  }
  return owners;
}

/** Points that lie nearer to the line through their neighbours than this are dropped, pixels. */
const COLLINEAR_PX = 1e-3;
/** Most by which a left-out point may lie off the outline, pixels: at 0.02, discs stand out 0.01 px over their width. */
const TOLERANCE_PX = 0.012;
const FEW = 8;

/**
 * A pixel boundary as a polygon at sub-pixel accuracy, in pixels of the image (corner of the upper left pixel at the
 * origin, y down).
 */
function fitRing(map: CoverageMap, ring: PixelRing, known: KnownStairs): Region {
  // A picture of bits alone has no grey to look for: what is known already is not even sampled.
  if (map.isBits) return onceKnown(known, ring, () => fitted(map, ring, sampleRing(map, ring), false));
  const samples = sampleRing(map, ring);
  const isGrey = samples.greyCount >= Math.max(2, samples.count * 0.02);
  const make = (): Region => fitted(map, ring, samples, isGrey);
  return isGrey ? make() : onceKnown(known, ring, make);
}

function fitted(map: CoverageMap, ring: PixelRing, samples: Samples, isGrey: boolean): Region {
  const points = tidy(samples.count < 3 ? [] : isGrey ? fitGrey(map, samples) : fitStairs(ring, samples));
  // A boundary too small to fit comes back as the pixels it is made of.
  const area = Math.abs(ringArea(points));
  const isTrusted = points.length >= 3 && area > 0.3 * ring.area - 2 && area < 2 * ring.area + 4 && area > 0;
  const placed = isTrusted ? points : tidy(stairs(ring));
  const outline = withoutLoops(placed.length > FEW ? simplifyRing(placed, TOLERANCE_PX) : placed);
  return solid(inImage(isGrey ? fitSmall(map, ring, outline) : outline));
}

/** A loop goes around no more points. */
const LOOP_POINTS = 8;

/** Where walls beside a tip sharper than its pixels were fitted past each other, the loop is cut off at their crossing. */
function withoutLoops(ring: Ring): Ring {
  const points = [...ring];
  for (let i = 0; i < points.length; i += 1) {
    for (let span = 2; span <= Math.min(LOOP_POINTS, points.length - 3); span += 1) {
      const at = (k: number): Point => points[(i + k) % points.length];
      const meet = crossingOf(at(0), at(1), at(span), at(span + 1));
      if (!meet) continue;
      const looped = Array.from({ length: span }, (_, k) => (i + 1 + k) % points.length);
      points[looped[0]] = meet;
      for (const k of looped.slice(1).sort((p, q) => q - p)) points.splice(k, 1);
      break;
    }
  }
  return points.length === ring.length ? ring : points;
}

/** Where two walls cross, both within their lengths. */
function crossingOf(a: Point, b: Point, c: Point, d: Point): Point | undefined {
  const ux = b[0] - a[0];
  const uy = b[1] - a[1];
  const vx = d[0] - c[0];
  const vy = d[1] - c[1];
  const across = ux * vy - uy * vx;
  const along = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / across;
  const other = ((c[0] - a[0]) * uy - (c[1] - a[1]) * ux) / across;
  return along > 0 && along < 1 && other > 0 && other < 1 ? [a[0] + along * ux, a[1] + along * uy] : undefined;
}

/** From padded pixels to pixels of the image. */
const inImage = (ring: Ring): Ring => ring.map((p): Point => [p[0] - 32, p[1] - 1]);

/** Drops repeated points and those on a straight line. */
function tidy(ring: Ring): Ring {
  const points: Point[] = [];
  for (const [x, y] of ring) {
    const before = points.at(-1);
    if (!before || Math.abs(x - before[0]) + Math.abs(y - before[1]) > 1e-6) points.push([x, y]);
  }
  const left: Point[] = [];
  points.forEach(([x, y], i) => {
    const [ax, ay] = left.at(-1) ?? points[points.length - 1];
    const [bx, by] = points[(i + 1) % points.length];
    const [px, py, ux, uy] = [x - ax, y - ay, bx - ax, by - ay];
    const base2 = ux * ux + uy * uy;
    const cross = px * uy - py * ux;
    const between = px * ux + py * uy;
    if (cross * cross > COLLINEAR_PX * COLLINEAR_PX * base2 || base2 === 0 || between < 0 || between > base2)
      left.push([x, y]);
  });
  return left;
}

/** Longer boundaries are unlikely to come twice. */
const MAX_STEPS = 4000;

/** Fits of 1-bit boundaries: pads that are equal to the pixel are copies of one shape, which is fitted once. */
type KnownStairs = Map<string, { readonly shape: Region; readonly x: number; readonly y: number }>;

function onceKnown(known: KnownStairs, ring: PixelRing, compute: () => Region): Region {
  const { xs, ys } = ring;
  if (xs.length > MAX_STEPS) return compute();
  const { shape, x, y } = kept(known, shapeOf(ring), () => ({ shape: compute(), x: xs[0], y: ys[0] }));
  return copyAt(shape, xs[0] - x, ys[0] - y);
}

/** Makes a character of a distance in pixels either way, which is several times quicker than its digits. */
const MIDDLE = 0x8000;

/** The corners of a boundary relative to its first point; the same text for the same shape. */
function shapeOf({ xs, ys, hole }: PixelRing): string {
  const n = xs.length;
  let key = hole ? 'h' : '';
  for (let i = 1; i < n; i += 1) {
    const next = i + 1 === n ? 0 : i + 1;
    if (xs[next] - xs[i] !== xs[i] - xs[i - 1] || ys[next] - ys[i] !== ys[i] - ys[i - 1])
      key += String.fromCharCode(xs[i] - xs[0] + MIDDLE, ys[i] - ys[0] + MIDDLE);
  }
  return key;
}

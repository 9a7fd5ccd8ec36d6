import { kept } from '../kept.js';
import { ringArea } from './area.js';
import { copyAt, copyOf, isClean, markClean } from './copies.js';
import type { Affine, Opening, Point, Region, Ring } from './types.js';

export const IDENTITY: Affine = { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 };

export const translation = (dx: number, dy: number): Affine => ({ ...IDENTITY, e: dx, f: dy });

export const scaling = (sx: number, sy = sx): Affine => ({ ...IDENTITY, a: sx, d: sy });

/** Turns counter-clockwise about the origin. Multiples of 90 degrees are exact. */
export function rotation(angleDeg: number): Affine {
  const turn = ((angleDeg % 360) + 360) % 360;
  const exact: Record<number, [number, number]> = { 0: [1, 0], 90: [0, 1], 180: [-1, 0], 270: [0, -1] };
  const angleRad = (turn * Math.PI) / 180;
  const [cos, sin] = exact[turn] ?? [Math.cos(angleRad), Math.sin(angleRad)];
  return { a: cos, b: -sin, c: sin, d: cos, e: 0, f: 0 };
}

/** The map that does `first`, then `second`. */
export function composeMaps(second: Affine, first: Affine): Affine {
  return {
    a: second.a * first.a + second.b * first.c,
    b: second.a * first.b + second.b * first.d,
    c: second.c * first.a + second.d * first.c,
    d: second.c * first.b + second.d * first.d,
    e: second.a * first.e + second.b * first.f + second.e,
    f: second.c * first.e + second.d * first.f + second.f,
  };
}

/** A map that is done about a place instead of the origin. */
export const around = ([x, y]: Point, map: Affine): Affine =>
  composeMaps(translation(x, y), composeMaps(map, translation(-x, -y)));

/** The inverse map. The caller has made sure that the determinant is not zero. */
export function invert(map: Affine): Affine {
  const det = map.a * map.d - map.b * map.c;
  const a = map.d / det;
  const b = -map.b / det;
  const c = -map.c / det;
  const d = map.a / det;
  return { a, b, c, d, e: -(a * map.e + b * map.f), f: -(c * map.e + d * map.f) };
}

const isIdentity = ({ a, b, c, d, e, f }: Affine): boolean =>
  a === 1 && b === 0 && c === 0 && d === 1 && e === 0 && f === 0;

export function mapPoint(map: Affine, [x, y]: Point): [number, number] {
  return [map.a * x + map.b * y + map.e, map.c * x + map.d * y + map.f];
}

export function mapRing({ a, b, c, d, e, f }: Affine, ring: Ring): Ring {
  const mapped: [number, number][] = [];
  for (let i = 0; i < ring.length; i += 1) {
    const point = ring[i];
    const x = point[0];
    const y = point[1];
    mapped.push([a * x + b * y + e, c * x + d * y + f]);
  }
  return mapped;
}

/** Maps an opening and keeps outer rings counter-clockwise and islands clockwise, also under a mirror. */
export function mapOpening<T extends Region>(map: Affine, opening: T): T {
  const flips = map.a * map.d - map.b * map.c < 0;
  const apply = (ring: Ring): Ring => (flips ? mapRing(map, ring).toReversed() : mapRing(map, ring));
  const mapped = { ...opening, outer: apply(opening.outer), islands: opening.islands.map(apply) };
  return isClean(opening) ? markClean(mapped) : mapped;
}

/** Maps shapes by one map, each once. */
export function shapeMapper(map: Affine): (shape: Region) => Region {
  const known = new Map<Region, Region>();
  return (shape) => kept(known, shape, () => mapOpening(map, shape));
}

/** Maps openings by one map; a shape is mapped once for all its copies. */
export function openingMapper(map: Affine): (opening: Opening) => Opening {
  const mapped = shapeMapper(map);
  return (opening) => {
    const copy = copyOf(opening);
    if (!copy) return mapOpening(map, opening);
    const { shape, dx, dy } = copy;
    return copyAt(mapped(shape), map.a * dx + map.b * dy, map.c * dx + map.d * dy, opening.tag);
  };
}

export const mapOpenings = (map: Affine, openings: readonly Opening[]): Opening[] =>
  isIdentity(map) ? [...openings] : openings.map(openingMapper(map));

/** The same ring, running counter-clockwise. */
export const counterClockwise = (ring: Ring): Ring => (ringArea(ring) < 0 ? ring.toReversed() : ring);

/** The same region with its outer ring counter-clockwise and its islands clockwise. */
export function orient<T extends Region>(region: T): T {
  const turned = (ring: Ring, sign: number): Ring => (ringArea(ring) * sign < 0 ? ring.toReversed() : ring);
  return { ...region, outer: turned(region.outer, 1), islands: region.islands.map((ring) => turned(ring, -1)) };
}

import type { DimensionalFeature } from '../../coupon/features.js';
import { reachAlong } from '../../geometry/bounds.js';
import type { Opening, Point } from '../../geometry/types.js';
import { distanceToWalls, insideRing, wallsOf } from '../../geometry/walls.js';
import type { Star } from './constellation.js';

/** An opening as seen along a direction: a box, mm as commanded. */
export interface OpeningBox {
  readonly opening: number;
  readonly middle: Point;
  readonly across: Point;
  readonly along: Point;
  readonly halfAcross: number;
  readonly halfAlong: number;
}

/** Beside an edge by this much lies the opening that it is of, mm. */
const WITHIN_MM = 0.01;

/** Openings with their middles and sizes, as the search and the ruler need them. */
export class Openings {
  readonly stars: readonly Star[];
  /** As they look where only their walls show. */
  readonly outlines: readonly Star[];
  /** How far each reaches from its middle. */
  private readonly reaches: readonly number[];

  constructor(readonly all: readonly Opening[]) {
    this.stars = all.map(({ outer }) => starOf(outer));
    this.reaches = all.map(({ outer }, i) => {
      const [cx, cy] = this.stars[i].at;
      return Math.max(...outer.map(([x, y]) => Math.hypot(x - cx, y - cy)));
    });
    this.outlines = all.map(({ outer }, i) => ({
      at: this.stars[i].at,
      radius: outlineRadius(outer, this.stars[i].at),
    }));
  }

  /** The opening that holds a point or lies nearest to it, as seen along a direction. */
  placeAt(point: Point, across: Point): OpeningBox {
    let best = 0;
    let least = Number.POSITIVE_INFINITY;
    this.all.forEach((opening, i) => {
      const [cx, cy] = this.stars[i].at;
      if (Math.hypot(point[0] - cx, point[1] - cy) - this.reaches[i] > least) return;
      const far = insideRing(point, opening.outer) ? 0 : distanceToWalls(point, wallsOf(opening));
      if (far < least) {
        least = far;
        best = i;
      }
    });
    return this.placeOf(best, across);
  }

  /** The opening that a feature is of, or those that it goes from and to, along it. */
  placesOf({ kind, from, to, nominalMm, side }: DimensionalFeature): OpeningBox[] {
    const across: Point = [(to[0] - from[0]) / nominalMm, (to[1] - from[1]) / nominalMm];
    const beside = ([x, y]: Point, mm: number): OpeningBox =>
      this.placeAt([x + mm * across[0], y + mm * across[1]], across);
    if (kind === 'opening') return [beside(from, nominalMm / 2)];
    if (kind === 'web') return [beside(from, -WITHIN_MM), beside(to, WITHIN_MM)];
    return [from, to].map((end) => beside(end, side === 'far' ? -WITHIN_MM : WITHIN_MM));
  }

  placeOf(opening: number, across: Point): OpeningBox {
    const along: Point = [-across[1], across[0]];
    const { outer } = this.all[opening];
    const [[u0, u1], [v0, v1]] = [reachAlong(outer, across), reachAlong(outer, along)];
    const [u, v] = [(u0 + u1) / 2, (v0 + v1) / 2];
    return {
      opening,
      across,
      along,
      middle: [u * across[0] + v * along[0], u * across[1] + v * along[1]],
      halfAcross: (u1 - u0) / 2,
      halfAlong: (v1 - v0) / 2,
    };
  }

  /** How far the next openings lie on both sides of one, mm; without end when none lies within `roomMm`. */
  gapsBeside(place: OpeningBox, roomMm: number): [number, number] {
    const gaps: [number, number] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];
    const { across, along, middle } = place;
    this.stars.forEach(({ at }, i) => {
      const [x, y] = [at[0] - middle[0], at[1] - middle[1]];
      const reach = this.reaches[i];
      if (i === place.opening || Math.abs(x * along[0] + y * along[1]) > place.halfAlong + reach) return;
      if (Math.abs(x * across[0] + y * across[1]) > place.halfAcross + roomMm + reach) return;
      const other = this.placeOf(i, across);
      const [dx, dy] = [other.middle[0] - middle[0], other.middle[1] - middle[1]];
      if (Math.abs(dx * along[0] + dy * along[1]) > place.halfAlong + other.halfAlong) return;
      const far = dx * across[0] + dy * across[1];
      const gap = Math.abs(far) - place.halfAcross - other.halfAcross;
      const side = far < 0 ? 0 : 1;
      if (gap > 0 && gap < roomMm) gaps[side] = Math.min(gaps[side], gap);
    });
    return gaps;
  }
}

/** Middle and root mean square radius of a polygon, by Green's theorem. */
function starOf(ring: readonly Point[]): Star {
  const [x0, y0] = ring[0];
  let [area, mx, my, square] = [0, 0, 0, 0];
  for (let i = 0; i < ring.length; i += 1) {
    const [ax, ay] = [ring[i][0] - x0, ring[i][1] - y0];
    const next = ring[(i + 1) % ring.length];
    const [bx, by] = [next[0] - x0, next[1] - y0];
    const cross = ax * by - bx * ay;
    area += cross / 2;
    mx += (cross * (ax + bx)) / 6;
    my += (cross * (ay + by)) / 6;
    square += (cross * (ax * ax + ax * bx + bx * bx + ay * ay + ay * by + by * by)) / 12;
  }
  const [cx, cy] = [mx / area, my / area];
  return { at: [x0 + cx, y0 + cy], radius: Math.sqrt(Math.max(0, square / area - cx * cx - cy * cy)) };
}

function outlineRadius(ring: readonly Point[], [cx, cy]: Point): number {
  let [length, square] = [0, 0];
  ring.forEach(([ax, ay], i) => {
    const [bx, by] = ring[(i + 1) % ring.length];
    const piece = Math.hypot(bx - ax, by - ay);
    const [px, py, qx, qy] = [ax - cx, ay - cy, bx - cx, by - cy];
    length += piece;
    square += (piece * (px * px + px * qx + qx * qx + py * py + py * qy + qy * qy)) / 3;
  });
  return Math.sqrt(square / length);
}

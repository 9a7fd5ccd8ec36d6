import { copyOf, firstCorner, move } from './copies.js';
import type { Point, Region, Ring } from './types.js';

/** Coordinates that differ by less than this are the same, mm: far above rounding noise, far below any laser. */
const SAME_MM = 1e-7;

interface Entry<R> {
  readonly region: Region;
  readonly result: R;
}

/**
 * Remembers what was worked out for a shape, wherever it lies: a board has thousands of openings and a few dozen
 * shapes. `work` gets the region moved so that its first point is the origin, and the answer must not depend on place.
 */
export class ShapeCache<R> {
  private readonly entries = new Map<number, Entry<R>[]>();
  private readonly byShape = new Map<Region, Entry<R>>();

  constructor(private readonly work: (atOrigin: Region) => R) {}

  /** The result for this shape, and the place of its first point. */
  get(region: Region): { result: R; at: Point } {
    const copy = copyOf(region);
    if (!copy) return { result: this.entryOf(region).result, at: region.outer[0] };
    const { shape } = copy;
    let entry = this.byShape.get(shape);
    if (!entry) {
      entry = this.entryOf(shape);
      this.byShape.set(shape, entry);
    }
    return { result: entry.result, at: firstCorner(region) };
  }

  /** What is known of this shape by its points, or worked out now. */
  private entryOf(region: Region): Entry<R> {
    const at = region.outer[0];
    const hash = hashShape(region, at);
    const bucket = this.entries.get(hash);
    const known = bucket?.find((entry) => sameShape(entry.region, region, at));
    if (known) return known;
    const local = move(region, -at[0], -at[1]);
    const entry = { region: local, result: this.work(local) };
    if (bucket) bucket.push(entry);
    else this.entries.set(hash, [entry]);
    return entry;
  }
}

function hashShape(region: Region, at: Point): number {
  let hash = hashRing(region.islands.length, region.outer, at);
  for (const ring of region.islands) hash = hashRing(hash, ring, at);
  return hash;
}

/** Of about so many points of a ring; which shape it is, a comparison of all of them tells. */
const HASHED_POINTS = 16;

function hashRing(before: number, ring: Ring, at: Point): number {
  let hash = mixed(before, ring.length);
  const step = Math.max(1, Math.floor(ring.length / HASHED_POINTS));
  for (let i = 0; i < ring.length; i += step) {
    hash = mixed(hash, ring[i][0] - at[0]);
    hash = mixed(hash, ring[i][1] - at[1]);
  }
  return hash;
}

/** 1e-4 mm steps, taken at the middle of a step for round values, so that noise seldom changes the hash. */
function mixed(hash: number, value: number): number {
  const next = Math.imul(hash ^ Math.floor(value * 1e4 + 0.317), 0x01000193);
  return next ^ (next >>> 15);
}

function sameRing(p: Ring, q: Ring, x0: number, y0: number): boolean {
  if (p.length !== q.length) return false;
  for (let i = 0; i < p.length; i += 1) {
    const own = p[i];
    const other = q[i];
    if (Math.abs(own[0] - (other[0] - x0)) > SAME_MM || Math.abs(own[1] - (other[1] - y0)) > SAME_MM) return false;
  }
  return true;
}

function sameShape(local: Region, region: Region, [x0, y0]: Point): boolean {
  return (
    local.islands.length === region.islands.length &&
    sameRing(local.outer, region.outer, x0, y0) &&
    local.islands.every((ring, i) => sameRing(ring, region.islands[i], x0, y0))
  );
}

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

  constructor(private readonly work: (atOrigin: Region) => R) {}

  /** The result for this shape, and the place of its first point. */
  get(region: Region): { result: R; at: Point } {
    const at = region.outer[0];
    const hash = hashShape(region, at);
    const bucket = this.entries.get(hash);
    const known = bucket?.find((entry) => sameShape(entry.region, region, at));
    if (known) return { result: known.result, at };
    const local = move(region, -at[0], -at[1]);
    const entry = { region: local, result: this.work(local) };
    if (bucket) bucket.push(entry);
    else this.entries.set(hash, [entry]);
    return { result: entry.result, at };
  }
}

/** Moves a region; direction of rings and tags stay. */
export function move<T extends Region>(region: T, dx: number, dy: number): T {
  const shift = (ring: Ring): Ring => ring.map(([x, y]): [number, number] => [x + dx, y + dy]);
  return { ...region, outer: shift(region.outer), islands: region.islands.map(shift) };
}

function hashShape(region: Region, [x0, y0]: Point): number {
  let hash = region.islands.length | 0;
  const add = (value: number): void => {
    // 1e-4 mm steps, taken at the middle of a step for round values, so that noise seldom changes the hash.
    hash = Math.imul(hash ^ Math.floor(value * 1e4 + 0.317), 0x01000193);
    hash ^= hash >>> 15;
  };
  for (const ring of [region.outer, ...region.islands]) {
    add(ring.length);
    for (const [x, y] of ring) {
      add(x - x0);
      add(y - y0);
    }
  }
  return hash;
}

function sameRing(p: Ring, q: Ring, x0: number, y0: number): boolean {
  if (p.length !== q.length) return false;
  for (let i = 0; i < p.length; i += 1) {
    if (Math.abs(p[i][0] - (q[i][0] - x0)) > SAME_MM || Math.abs(p[i][1] - (q[i][1] - y0)) > SAME_MM) return false;
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

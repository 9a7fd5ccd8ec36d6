import { kept, listIn } from '../kept.js';
import { openingArea, openingCentroid, openingPerimeter } from './area.js';
import { copyAt, copyOf, firstCorner, move } from './copies.js';
import type { Opening, Point, Region, Ring } from './types.js';

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

  /** @param sameMm - corners that differ by less are the same, mm */
  constructor(
    private readonly work: (atOrigin: Region) => R,
    private readonly sameMm = SAME_MM,
  ) {}

  /** The result for this shape, and the place of its first point. */
  get(region: Region): { result: R; at: Point } {
    const shape = copyOf(region)?.shape;
    const { result } = shape ? kept(this.byShape, shape, () => this.entryOf(shape)) : this.entryOf(region);
    return { result, at: firstCorner(region) };
  }

  /** What is known of this shape by its points, or worked out now. */
  private entryOf(region: Region): Entry<R> {
    const at = region.outer[0];
    const bucket = listIn(this.entries, hashShape(region, at));
    const known = bucket.find((entry) => sameShape(entry.region, region, at, this.sameMm));
    if (known) return known;
    const local = move(region, -at[0], -at[1]);
    const entry = { region: local, result: this.work(local) };
    bucket.push(entry);
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

function sameRing(p: Ring, q: Ring, [x0, y0]: Point, sameMm: number): boolean {
  if (p.length !== q.length) return false;
  for (let i = 0; i < p.length; i += 1) {
    const own = p[i];
    const other = q[i];
    if (Math.abs(own[0] - (other[0] - x0)) > sameMm || Math.abs(own[1] - (other[1] - y0)) > sameMm) return false;
  }
  return true;
}

function sameShape(local: Region, region: Region, at: Point, sameMm: number): boolean {
  return (
    local.islands.length === region.islands.length &&
    sameRing(local.outer, region.outer, at, sameMm) &&
    local.islands.every((ring, i) => sameRing(ring, region.islands[i], at, sameMm))
  );
}

/** Number of directions in which two shapes are compared; a sixteenth of a turn finds a corner that was cut off. */
const DIRECTIONS = 16;
const COSINE = Float64Array.from({ length: DIRECTIONS }, (_, i) => Math.cos((2 * Math.PI * i) / DIRECTIONS));
const SINE = Float64Array.from({ length: DIRECTIONS }, (_, i) => Math.sin((2 * Math.PI * i) / DIRECTIONS));

interface Outline {
  readonly region: Region;
  readonly centre: readonly [number, number];
  readonly area: number;
  readonly perimeter: number;
  /** How far the shape reaches from its centre in each direction. */
  readonly reach: Float64Array;
}

/**
 * Lets openings that are alike share one shape, each at its own place: equal pads traced from an image differ by a few
 * hundredths of a pixel, and would be rounded to different dots one by one.
 *
 * @param openings - mm; those with islands are left as they are
 * @param toleranceMm - shapes that reach equally far within this, in all directions, and agree in area are alike
 * @returns the same number of openings in the same order, with the same centres
 */
export function shareShapes(openings: readonly Opening[], toleranceMm: number): Opening[] {
  const classes = new Map<string, Outline[]>();
  const known = new Map<Region, { readonly own: Outline; readonly like: Outline }>();
  const look = (shape: Region): { own: Outline; like: Outline } => {
    const own = outlineOf(shape);
    const like = findAlike(classes, own, toleranceMm) ?? own;
    if (like === own) listIn(classes, keyOf(own, toleranceMm, 0, 0)).push(own);
    return { own, like };
  };
  return openings.map((opening) => {
    if (opening.islands.length > 0) return opening;
    const { shape, dx, dy } = copyOf(opening) ?? { shape: opening, dx: 0, dy: 0 };
    const { own, like } = kept(known, shape, () => look(shape));
    if (like === own) return opening;
    const [x, y] = [own.centre[0] - like.centre[0], own.centre[1] - like.centre[1]];
    return copyAt(like.region, x + dx, y + dy, opening.tag);
  });
}

function outlineOf(region: Region): Outline {
  const centre = openingCentroid(region);
  const cx = centre[0];
  const cy = centre[1];
  const ring = region.outer;
  const reach = new Float64Array(DIRECTIONS);
  const half = DIRECTIONS / 2;
  for (let i = 0; i < half; i += 1) {
    const cosine = COSINE[i];
    const sine = SINE[i];
    let least = Infinity;
    let most = -Infinity;
    for (let k = 0; k < ring.length; k += 1) {
      const along = cosine * (ring[k][0] - cx) + sine * (ring[k][1] - cy);
      if (along > most) most = along;
      if (along < least) least = along;
    }
    reach[i] = most;
    reach[i + half] = -least;
  }
  return { region, centre, area: openingArea(region), perimeter: openingPerimeter(region), reach };
}

/** Bucket by width and height; a shape near a border is looked for in the buckets beside it too. */
function keyOf({ reach }: Outline, toleranceMm: number, dx: number, dy: number): string {
  const step = 4 * toleranceMm;
  return `${Math.floor((reach[0] + reach[8]) / step) + dx},${Math.floor((reach[4] + reach[12]) / step) + dy}`;
}

function findAlike(
  classes: ReadonlyMap<string, Outline[]>,
  outline: Outline,
  toleranceMm: number,
): Outline | undefined {
  for (let dx = -1; dx <= 1; dx += 1) {
    for (let dy = -1; dy <= 1; dy += 1) {
      const found = classes
        .get(keyOf(outline, toleranceMm, dx, dy))
        ?.find((other) => alike(outline, other, toleranceMm));
      if (found) return found;
    }
  }
  return undefined;
}

function alike(p: Outline, q: Outline, toleranceMm: number): boolean {
  if (Math.abs(p.area - q.area) > toleranceMm * p.perimeter) return false;
  if (Math.abs(p.perimeter - q.perimeter) > 8 * toleranceMm) return false;
  for (let i = 0; i < DIRECTIONS; i += 1) if (Math.abs(p.reach[i] - q.reach[i]) > toleranceMm) return false;
  return true;
}

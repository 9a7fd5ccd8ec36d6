import type { Opening, OpeningTag, Point, Region, Ring } from './types.js';

/** Which shape an opening is a copy of, and by how much it was moved, mm. */
export interface Copy {
  readonly shape: Region;
  readonly dx: number;
  readonly dy: number;
}

const NO_ISLANDS: readonly Ring[] = [];

/**
 * A copy keeps where it lies, and its points only once somebody asked for them. That stands in private fields, so that
 * spreading a copy leaves it behind; the rings are the copy's own enumerable properties, so that spreading takes them
 * along. All copies share two getters: with getters of its own each would be a kind of object of its own, which costs
 * five times the time and ten times the memory.
 */
class CopiedOpening implements Opening, Copy {
  declare readonly outer: Ring;
  declare readonly islands: readonly Ring[];
  declare readonly tag?: OpeningTag;
  readonly #shape: Region;
  readonly #dx: number;
  readonly #dy: number;
  #outer?: Ring;
  #islands?: readonly Ring[];

  constructor(shape: Region, dx: number, dy: number, tag?: OpeningTag) {
    this.#shape = shape;
    this.#dx = dx;
    this.#dy = dy;
    Object.defineProperty(this, 'outer', CopiedOpening.OUTER);
    // Hardly any shape has islands, and a plain property is made in half the time.
    if (shape.islands.length === 0) this.islands = NO_ISLANDS;
    else Object.defineProperty(this, 'islands', CopiedOpening.ISLANDS);
    if (tag) this.tag = tag;
  }

  get shape(): Region {
    return this.#shape;
  }

  get dx(): number {
    return this.#dx;
  }

  get dy(): number {
    return this.#dy;
  }

  static copyOf(region: Region): Copy | undefined {
    return region instanceof CopiedOpening ? region : undefined;
  }

  private static readonly OUTER = {
    enumerable: true,
    get(this: CopiedOpening): Ring {
      this.#outer ??= shift(this.#shape.outer, this.#dx, this.#dy);
      return this.#outer;
    },
  };

  private static readonly ISLANDS = {
    enumerable: true,
    get(this: CopiedOpening): readonly Ring[] {
      this.#islands ??= this.#shape.islands.map((ring) => shift(ring, this.#dx, this.#dy));
      return this.#islands;
    },
  };
}

/**
 * An opening that is a shape moved to its place. A board has thousands of openings and a few dozen shapes: points are
 * laid out only for those who ask for them, and what is worked out for the shape holds for all its copies.
 *
 * @param shape - never changed once it was handed in; a copy itself will do
 */
export function copyAt(shape: Region, dx: number, dy: number, tag?: OpeningTag): Opening {
  const own = copyOf(shape);
  return own ? new CopiedOpening(own.shape, own.dx + dx, own.dy + dy, tag) : new CopiedOpening(shape, dx, dy, tag);
}

/** The same opening with another tag: a copy stays one. */
export function tagged(region: Region, tag: OpeningTag | undefined): Opening {
  return copyOf(region)
    ? copyAt(region, 0, 0, tag)
    : { outer: region.outer, islands: region.islands, ...(tag ? { tag } : {}) };
}

/** What an opening is a copy of; undefined for one with points of its own, and for one made from a copy by spreading. */
export const copyOf = CopiedOpening.copyOf;

/** The first corner of the outer ring, without laying out a copy's points. */
export function firstCorner(region: Region): Point {
  const copy = copyOf(region);
  if (!copy) return region.outer[0];
  const [x, y] = copy.shape.outer[0];
  return [x + copy.dx, y + copy.dy];
}

/** A function of shapes that do not depend on place: worked out once for all copies of a shape. */
export function oncePerShape<R>(work: (region: Region) => R): (region: Region) => R {
  const known = new WeakMap<Region, R>();
  return (region) => {
    const copy = copyOf(region);
    if (!copy) return work(region);
    let result = known.get(copy.shape);
    if (result === undefined) {
      result = work(copy.shape);
      known.set(copy.shape, result);
    }
    return result;
  };
}

/** Moves a region; direction of rings and tags stay. */
export function move<T extends Region>(region: T, dx: number, dy: number): T {
  return { ...region, outer: shift(region.outer, dx, dy), islands: region.islands.map((ring) => shift(ring, dx, dy)) };
}

/** Moves a ring. */
function shift(ring: Ring, dx: number, dy: number): Ring {
  const moved: [number, number][] = [];
  for (let i = 0; i < ring.length; i += 1) moved.push([ring[i][0] + dx, ring[i][1] + dy]);
  return moved;
}

/** Regions that were looked through, or come from where they are made right. */
const clean = new WeakSet<Region>();
const shapeOf = (region: Region): Region => copyOf(region)?.shape ?? region;

/** Says of regions that they are sound, so that no door looks through them again: a board has 64,000 openings. */
export function markClean<T extends Region>(region: T): T {
  clean.add(shapeOf(region));
  return region;
}

export const isClean = (region: Region): boolean => clean.has(shapeOf(region));

import { shift } from './move.js';
import type { Opening, OpeningTag, Point, Region, Ring } from './types.js';

/** Which shape an opening is a copy of, and by how much it was moved, mm. */
export interface Copy {
  readonly shape: Region;
  readonly dx: number;
  readonly dy: number;
}

/** Where an opening keeps what it is a copy of: not enumerable, so that spreading an opening leaves it behind. */
const COPY = Symbol('copy');
const NO_ISLANDS: readonly Ring[] = [];

/**
 * An opening that is a shape moved to its place. A board has thousands of openings and a few dozen shapes: points are
 * laid out only for those who ask for them, and what is worked out for the shape holds for all its copies.
 *
 * @param shape - never changed once it was handed in; a copy itself will do
 */
export function copyAt(shape: Region, dx: number, dy: number, tag?: OpeningTag): Opening {
  const own = copyOf(shape);
  const copy: Copy = own ? { shape: own.shape, dx: own.dx + dx, dy: own.dy + dy } : { shape, dx, dy };
  let outer: Ring | undefined;
  let islands = copy.shape.islands.length === 0 ? NO_ISLANDS : undefined;
  const opening: Opening = {
    get outer() {
      outer ??= shift(copy.shape.outer, copy.dx, copy.dy);
      return outer;
    },
    get islands() {
      islands ??= copy.shape.islands.map((ring) => shift(ring, copy.dx, copy.dy));
      return islands;
    },
    ...(tag ? { tag } : {}),
  };
  return Object.defineProperty(opening, COPY, { value: copy });
}

/** What an opening is a copy of; undefined for one with points of its own, and for one made from a copy by spreading. */
export const copyOf = (opening: Region): Copy | undefined => (opening as { readonly [COPY]?: Copy })[COPY];

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

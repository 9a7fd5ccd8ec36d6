import { InputError } from '../../errors.js';
import { copyAt } from '../../geometry/copies.js';
import type { Opening, OpeningTag, Point, Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { coarser } from './coarser.js';
import { groupPlaced } from './groups.js';
import { groupPainter } from './painted-groups.js';
import { cornersOf, PlacedRegion } from './placed.js';
import { commonTag } from './tags.js';

/** One object in the order of painting: dark adds to the image, clear erases what lies beneath. */
export interface PaintedObject {
  readonly dark: boolean;
  /** mm; they do not overlap each other. */
  readonly regions: readonly Region[];
  /** Where their origin lies; objects of one shape share their regions. Not given: at the origin. */
  readonly at?: Point;
  readonly tag?: OpeningTag;
}

/** Openings with more corners than this would not fit into memory. */
const MAX_CORNERS = 6_000_000;

/**
 * Turns painted objects into openings: what overlaps or touches becomes one, clear objects erase what was painted
 * before them. An object that meets no other keeps its points to the last digit.
 *
 * @param objects - in the order of painting
 * @param lost - takes pieces too small to be openings that clear objects left; see `lostPieces`
 * @returns openings in order of first appearance; a merged one has the tag values on which all its parts agree
 * @throws {InputError} TOO_MUCH when there is more than memory holds, or painted over beyond all measure
 */
export function compose(objects: readonly PaintedObject[], lost: Region[] = []): Opening[] {
  const items = place(objects.length > MANY ? coarserObjects(objects) : objects);
  const { groups, opposites } = groupPlaced(items);
  const paint = groupPainter(items, opposites);
  const found: { first: number; opening: Opening }[] = [];
  let corners = 0;
  const count = (more: number): void => {
    corners += more;
    if (corners > MAX_CORNERS) throw tooManyCorners();
  };
  // What stands alone is known before any of it is laid out.
  for (const members of groups) if (members.length === 1) count(items[members[0]].corners);
  for (const members of groups) {
    if (members.length === 1) {
      const item = items[members[0]];
      if (!item.dark) continue;
      found.push({ first: members[0], opening: openingOf(item) });
      continue;
    }
    const { regions, parts: lists, lost: small } = paint(members);
    for (const piece of small) lost.push(piece);
    lists.forEach((parts, k) => {
      const tag = commonTag(parts.map((i) => items[i].tag));
      const first = parts[0] ?? members[0];
      count(cornersOf(regions[k]));
      found.push({ first, opening: tag ? { ...regions[k], tag } : regions[k] });
    });
  }
  return found.sort((p, q) => p.first - q.first).map(({ opening }) => opening);
}

/** What was drawn in place keeps its points; flashes of one shape are its copies. */
function openingOf({ shape, dx, dy, tag }: PlacedRegion): Opening {
  if (dx !== 0 || dy !== 0) return copyAt(shape, dx, dy, tag);
  return tag ? { ...shape, tag } : shape;
}

/** Layers with fewer objects fit into memory whatever they flash. */
const MANY = 10_000;
/** With more corners than this, discs get fewer. */
const PLENTY_OF_CORNERS = 2_000_000;

/** The same objects, with coarser discs when there are very many. */
function coarserObjects(objects: readonly PaintedObject[]): readonly PaintedObject[] {
  const corners = new Map<Region, number>();
  let sum = 0;
  for (const { regions } of objects) {
    for (const region of regions) {
      sum += kept(corners, region, () => cornersOf(region));
    }
  }
  if (sum <= PLENTY_OF_CORNERS) return objects;
  const made = new Map<Region, Region>();
  for (const region of corners.keys()) made.set(region, coarser(region));
  return objects.map((object) => ({ ...object, regions: object.regions.map((r) => made.get(r) as Region) }));
}

/** Objects apart into regions. Without clear ones, what is painted twice at one place is painted once. */
function place(objects: readonly PaintedObject[]): PlacedRegion[] {
  const onlyDark = objects.every(({ dark }) => dark);
  const isTwice = twiceFinder();
  const items: PlacedRegion[] = [];
  for (const { dark, regions, at, tag } of objects) {
    for (const region of regions) {
      const item = new PlacedRegion(region, at?.[0] ?? 0, at?.[1] ?? 0, dark, tag);
      if (!onlyDark || !at || !isTwice(item)) items.push(item);
    }
  }
  return items;
}

/** Hardly any two places on a decimal grid have the same sum of x and so many times y; those that have come to no harm. */
const UNEVEN = Math.SQRT2 * 1e3;
/** So many shapes at one place are told apart; a shape beyond is painted again, which is slower and comes to the same. */
const SHAPES_AT_A_PLACE = 100;

/** Tells whether a shape was painted at the very same place before. */
function twiceFinder(): (item: PlacedRegion) => boolean {
  const seen = new Map<number, PlacedRegion>();
  return (item) => {
    const { shape, dx, dy } = item;
    for (let k = 0; k < SHAPES_AT_A_PLACE; k += 1) {
      const key = dx + UNEVEN * dy + Math.PI * k;
      const before = seen.get(key);
      if (!before) {
        seen.set(key, item);
        return false;
      }
      if (before.shape === shape && before.dx === dx && before.dy === dy) return true;
    }
    return false;
  };
}

function tooManyCorners(): InputError {
  return new InputError({
    code: 'TOO_MUCH',
    message: `the openings have more than ${MAX_CORNERS} corners.`,
    hint: 'No paste layer is that large; check that this is the right file.',
  });
}

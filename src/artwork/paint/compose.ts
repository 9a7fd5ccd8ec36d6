import { InputError } from '../../errors.js';
import { ringArea } from '../../geometry/area.js';
import { boxOf } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { copyAt } from '../../geometry/copies.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import { circleSteps } from '../../geometry/shapes.js';
import type { Opening, OpeningTag, Point, Region, Ring } from '../../geometry/types.js';
import { wallsOf, wallsTouch } from '../../geometry/walls.js';
import { budgetInForce } from '../../geometry/work-budget.js';
import { kept, listIn } from '../../kept.js';
import { commonTag, groupPainter } from './painted-groups.js';
import { cornersOf, PlacedRegion } from './placed.js';

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

/** Walls nearer than this touch, mm. */
const TOUCH_MM = 1e-6;
/** With more pairs than this everything lies on one heap. */
const MAX_PAIRS = 5_000_000;
/** Pairs of opposite polarity are kept, so they are bounded by memory. */
const MAX_KEPT_PAIRS = 4_000_000;

/** What a look at two objects' walls costs, in the units of `WorkBudget`: at least, and for each wall. */
const WALLS_COST = { least: 120, each: 0.1 };
/** What a look at their insides costs. */
const INSIDES_COST = 30;

export interface Grouped {
  /** Positions of objects that meet each other, directly or through others, ascending. */
  readonly groups: readonly (readonly number[])[];
  /** For each object the earlier ones of the other polarity whose boxes it meets. */
  readonly opposites: ReadonlyMap<number, number[]>;
}

/**
 * Finds groups by union and find over the pairs whose boxes meet.
 *
 * @throws {InputError} TOO_MUCH when nearly everything lies on one heap
 */
function groupPlaced(items: readonly PlacedRegion[]): Grouped {
  const sets = new DisjointSets(items.length);
  const opposites = new Map<number, number[]>();
  let pairs = 0;
  let kept = 0;
  boxIndex(items, ({ box }) => box).eachPair((early, late) => {
    pairs += 1;
    const first = items[early];
    const second = items[late];
    if (first.dark !== second.dark) {
      listIn(opposites, late).push(early);
      kept += 1;
    }
    if (pairs > MAX_PAIRS || kept > MAX_KEPT_PAIRS) throw onOneHeap(pairs);
    // A clear object only matters to what was painted before it, and clear ones do not join each other.
    if (!first.dark) return;
    if (!sets.areTogether(early, late) && touch(first, second)) sets.join(early, late);
  }, TOUCH_MM);
  return { groups: sets.groups(), opposites };
}

function onOneHeap(pairs: number): InputError {
  return new InputError({
    code: 'TOO_MUCH',
    message: `${pairs} pairs of objects lie on top of each other.`,
    hint: 'The coordinate format may be wrong, or this is no paste layer.',
  });
}

function touch(p: PlacedRegion, q: PlacedRegion): boolean {
  if (p.isBox && q.isBox) return true;
  // Most that touch overlap well, and then the middle of one lies in the other.
  budgetInForce()?.spend(INSIDES_COST);
  if (surelyApart(p, q, TOUCH_MM)) return false;
  if (q.holds(p.inside) || p.holds(q.inside)) return true;
  const [first, second] = [p.keptRegion, q.keptRegion];
  budgetInForce()?.spend(WALLS_COST.least + WALLS_COST.each * (p.corners + q.corners));
  if (wallsTouch(wallsOf(first), wallsOf(second), TOUCH_MM)) return true;
  return q.holds(first.outer[0]) || p.holds(second.outer[0]);
}

/** The strip across a region's longest wall in which all of it lies, about the region's own origin. */
interface Strip {
  /** Unit vector across. */
  readonly nx: number;
  readonly ny: number;
  readonly low: number;
  readonly high: number;
}

const strips = new WeakMap<Region, Strip>();

function stripOf(region: Region): Strip {
  let [nx, ny, longest] = [1, 0, 0];
  let [px, py] = region.outer[region.outer.length - 1];
  for (const [qx, qy] of region.outer) {
    const length = Math.hypot(qx - px, qy - py);
    if (length > longest) [nx, ny, longest] = [(py - qy) / length, (qx - px) / length, length];
    [px, py] = [qx, qy];
  }
  const [low, high] = extent(region, nx, ny);
  return { nx, ny, low, high };
}

function extent({ outer }: Region, nx: number, ny: number): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const [x, y] of outer) {
    const d = x * nx + y * ny;
    if (d < low) low = d;
    if (d > high) high = d;
  }
  return [low, high];
}

/**
 * Whether two objects surely do not touch: one lies beside the strip along the other's longest wall. Strokes at an
 * angle have boxes that overlap over all their length.
 */
function surelyApart(p: PlacedRegion, q: PlacedRegion, gapMm: number): boolean {
  return beside(p, q, gapMm) || beside(q, p, gapMm);
}

function beside(p: PlacedRegion, q: PlacedRegion, gapMm: number): boolean {
  const { nx, ny, low, high } = kept(strips, p.shape, () => stripOf(p.shape));
  const [from, to] = extent(q.shape, nx, ny);
  const shift = (q.dx - p.dx) * nx + (q.dy - p.dy) * ny;
  return from + shift > high + gapMm || to + shift < low - gapMm;
}

/** Rings with fewer corners are polygons that were meant. */
const LEAST_STEPS = 32;
/** The chords of a layer with very many discs; its box moves by less than half a micrometre, mm. */
const COARSE_MM = 5e-4;

/**
 * The same disc, of the same area, with fewer corners: a panel may hold fifty thousand of them. Anything but a disc is
 * left as it is.
 */
function coarser(region: Region): Region {
  const { outer, islands } = region;
  if (outer.length < LEAST_STEPS || islands.length > 0) return region;
  const { minX, minY, maxX, maxY } = boxOf(region);
  const [cx, cy] = [(minX + maxX) / 2, (minY + maxY) / 2];
  const radius = Math.hypot(outer[0][0] - cx, outer[0][1] - cy);
  if (!outer.every(([x, y]) => Math.abs(Math.hypot(x - cx, y - cy) - radius) < 1e-9)) return region;
  if (!isEven(outer)) return region;
  const steps = circleSteps(radius, COARSE_MM);
  if (steps >= outer.length) return region;
  const angle = (2 * Math.PI) / steps;
  const reach = Math.sqrt((2 * ringArea(outer)) / (steps * Math.sin(angle)));
  const start = Math.atan2(outer[0][1] - cy, outer[0][0] - cx);
  return {
    outer: Array.from({ length: steps }, (_, i): [number, number] => [
      cx + reach * Math.cos(start + i * angle),
      cy + reach * Math.sin(start + i * angle),
    ]),
    islands,
  };
}

/** Whether all sides are equally long: an arc with a chord has one that is not. */
function isEven(ring: Ring): boolean {
  const side = Math.hypot(ring[1][0] - ring[0][0], ring[1][1] - ring[0][1]);
  return ring.every(([x, y], i) => {
    const [nx, ny] = ring[(i + 1) % ring.length];
    return Math.abs(Math.hypot(nx - x, ny - y) - side) < 1e-9;
  });
}

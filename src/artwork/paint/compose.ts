import { InputError } from '../../errors.js';
import { boxIndex } from '../../geometry/box-index.js';
import { copyAt } from '../../geometry/copies.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import type { Opening, OpeningTag, Point, Region } from '../../geometry/types.js';
import { nearestBetween, wallsOf } from '../../geometry/walls.js';
import { budgetInForce } from '../../geometry/work-budget.js';
import { kept } from '../../kept.js';
import { commonTag, cornersOf, groupPainter, PlacedRegion } from './painted-groups.js';

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
  const items = place(objects);
  const groups = groupPlaced(items);
  const paint = groupPainter(items);
  const found: { first: number; opening: Opening }[] = [];
  let corners = 0;
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
      corners += cornersOf(regions[k]);
      if (corners > MAX_CORNERS) throw tooManyCorners();
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

/** Objects apart into regions. */
const place = (objects: readonly PaintedObject[]): PlacedRegion[] =>
  objects.flatMap(({ dark, regions, at: [dx, dy] = ORIGIN, tag }) =>
    regions.map((region) => new PlacedRegion(region, dx, dy, dark, tag)),
  );

const ORIGIN: Point = [0, 0];

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

/** What a look at two objects' walls costs, in the units of `WorkBudget`: at least, and for each wall. */
const WALLS_COST = { least: 120, each: 0.1 };
/** What a look at their insides costs. */
const INSIDES_COST = 30;

/**
 * Finds objects that meet each other, directly or through others, by union and find over the pairs whose boxes meet.
 * Without clear objects what is painted again at the same place is left out.
 *
 * @returns positions of objects, ascending
 * @throws {InputError} TOO_MUCH when nearly everything lies on one heap
 */
function groupPlaced(items: readonly PlacedRegion[]): readonly (readonly number[])[] {
  const sets = new DisjointSets(items.length);
  const onlyDark = items.every(({ dark }) => dark);
  const again = new Set<number>();
  let pairs = 0;
  boxIndex(items, ({ box }) => box).eachPair((early, late) => {
    pairs += 1;
    if (pairs > MAX_PAIRS) throw onOneHeap(pairs);
    const first = items[early];
    const second = items[late];
    if (onlyDark && first.shape === second.shape && first.dx === second.dx && first.dy === second.dy) again.add(late);
    // A clear object only matters to what was painted before it, and clear ones do not join each other.
    else if (first.dark && !sets.areTogether(early, late) && touch(first, second)) sets.join(early, late);
  }, TOUCH_MM);
  const groups = sets.groups();
  if (again.size === 0) return groups;
  return groups.map((members) => members.filter((i) => !again.has(i))).filter((members) => members.length > 0);
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
  budgetInForce()?.spend(WALLS_COST.least + WALLS_COST.each * (cornersOf(p.shape) + cornersOf(q.shape)));
  if (nearestBetween(wallsOf(first), wallsOf(second), TOUCH_MM)) return true;
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

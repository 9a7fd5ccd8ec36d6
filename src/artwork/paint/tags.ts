import { boxOf } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { insidePoint } from '../../geometry/inside-point.js';
import type { OpeningTag, Point, Region } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';
import { cornersOf, type PlacedRegion } from './placed.js';

/** Boxes nearer than the clipper's grid may have moved them, mm. */
const GRID_MM = 2e-6;
/** A corner is looked at this share of the way to the middle, off any wall. */
const INWARDS = 1e-3;
/** So many corners of an object are asked at most. */
const MOST_CORNERS = 64;

/**
 * The dark objects that each painted region is made of.
 *
 * @param regions - of one group, after painting
 * @param members - the group's objects, positions ascending
 * @returns one ascending list for each region
 */
export function partsOfRegions(
  regions: readonly Region[],
  members: readonly number[],
  items: readonly PlacedRegion[],
): number[][] {
  const dark = members.filter((i) => items[i].dark);
  const clear = members.filter((i) => !items[i].dark);
  // Nothing was erased and all hangs together: all of it is in there.
  if (regions.length === 1 && clear.length === 0) return [dark];
  const parts = regions.map((): number[] => []);
  const index = boxIndex(regions, boxOf);
  const erased = erasures(clear, items);
  for (const i of dark) {
    const item = items[i];
    // Small regions first: what lies in one of them need not be looked for in a plane with a thousand holes.
    const near = index.near(item.box, GRID_MM).sort((p, q) => cornersOf(regions[p]) - cornersOf(regions[q]));
    if (clear.length > 0) {
      const points = pointsWithin(item).filter((point) => !erased(point, i));
      for (const k of near) if (shares(item, i, points, regions[k], erased)) parts[k].push(i);
      continue;
    }
    const found =
      near.find((k) => insideRegion(item.inside, regions[k])) ??
      near.find((k) => pointsWithin(item).some((point) => insideRegion(point, regions[k])));
    if (found !== undefined) parts[found].push(i);
  }
  return parts;
}

type Erased = (point: Point, after: number) => boolean;

/** Tells whether something erased a point after an object was painted. */
function erasures(clear: readonly number[], items: readonly PlacedRegion[]): Erased {
  const index = boxIndex(clear, (i) => items[i].box);
  return ([x, y], after) =>
    index.near({ minX: x, minY: y, maxX: x, maxY: y }).some((k) => clear[k] > after && items[clear[k]].holds([x, y]));
}

/** Points of an object that lie within it: its middle, and its corners a little inwards. */
function pointsWithin(item: PlacedRegion): Point[] {
  const middle = item.inside;
  const { outer } = item.region;
  const every = Math.ceil(outer.length / MOST_CORNERS);
  const corners = outer
    .filter((_, i) => i % every === 0)
    .map(([x, y]): Point => [x + (middle[0] - x) * INWARDS, y + (middle[1] - y) * INWARDS])
    .filter((point) => item.holds(point));
  return [middle, ...corners];
}

/** Whether a region holds what is left of an object: one of its points, or its own middle is the object's. */
function shares(
  item: PlacedRegion,
  position: number,
  points: readonly Point[],
  region: Region,
  erased: Erased,
): boolean {
  if (points.some((point) => insideRegion(point, region))) return true;
  const middle = insidePoint(region);
  return item.holds(middle) && !erased(middle, position);
}

/** What all tags agree on; the kind is `mixed` where they don't. */
export function commonTag(tags: readonly (OpeningTag | undefined)[]): OpeningTag | undefined {
  const first = tags[0];
  if (!first || tags.length === 1) return first;
  const agreed = <T>(pick: (tag: OpeningTag) => T | undefined): T | undefined => {
    const value = pick(first);
    return tags.every((tag) => tag && pick(tag) === value) ? value : undefined;
  };
  const component = agreed((tag) => tag.component);
  const pin = agreed((tag) => tag.pin);
  const shape = agreed((tag) => tag.shape);
  const attributes = commonAttributes(tags);
  const line = tags.reduce((least, tag) => Math.min(least, tag?.line ?? Infinity), Infinity);
  return {
    drawn: agreed((tag) => tag.drawn) ?? 'mixed',
    ...(shape ? { shape } : {}),
    ...(component ? { component } : {}),
    ...(pin ? { pin } : {}),
    ...(attributes ? { attributes } : {}),
    ...(Number.isFinite(line) ? { line } : {}),
  };
}

function commonAttributes(tags: readonly (OpeningTag | undefined)[]): Record<string, string> | undefined {
  const first = tags[0]?.attributes;
  if (!first) return undefined;
  if (tags.every((tag) => tag?.attributes === first)) return first;
  const common = Object.entries(first).filter(([name, value]) =>
    tags.every((tag) => tag?.attributes?.[name] === value),
  );
  return common.length > 0 ? Object.fromEntries(common) : undefined;
}

import { joinBoxes, ringBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import type { Box, Opening, OpeningTag, Region } from '../geometry/types.js';
import { boxDistance, distanceToWalls, insideRegion, insideRing, nearestBetween, wallsOf } from '../geometry/walls.js';
import { cut, unite } from './gerber/clip.js';

/** One object in the order of painting: dark adds to the image, clear erases what lies beneath. */
export interface PaintedObject {
  readonly dark: boolean;
  /** mm; they do not overlap each other. */
  readonly regions: readonly Region[];
  readonly tag?: OpeningTag;
}

/** Walls nearer than this touch, mm. */
const TOUCH_MM = 1e-6;

interface Item {
  readonly region: Region;
  readonly box: Box;
  readonly dark: boolean;
  readonly tag?: OpeningTag;
}

/**
 * Turns painted objects into openings: what overlaps or touches becomes one, clear objects erase what was painted
 * before them. An object that meets no other keeps its points to the last digit.
 *
 * @param objects - in the order of painting
 * @returns openings in order of first appearance; a merged one has the tag values on which all its parts agree
 */
export function compose(objects: readonly PaintedObject[]): Opening[] {
  const items = objects.flatMap(({ dark, regions, tag }) =>
    regions.map((region): Item => ({ region, box: ringBounds(region.outer), dark, tag })),
  );
  const found: { first: number; opening: Opening }[] = [];
  for (const group of touchingGroups(items)) {
    const members = group.map((i) => items[i]);
    if (members.length === 1) {
      const [{ region, dark, tag }] = members;
      if (dark) found.push({ first: group[0], opening: tag ? { ...region, tag } : region });
      continue;
    }
    for (const region of paint(members)) {
      const parts = partsOf(region, group, items);
      const tag = commonTag(parts.map((i) => items[i].tag));
      found.push({ first: parts[0] ?? group[0], opening: tag ? { ...region, tag } : region });
    }
  }
  return found.sort((p, q) => p.first - q.first).map(({ opening }) => opening);
}

/** Groups of items that touch, directly or through others; ascending positions. */
function touchingGroups(items: readonly Item[]): number[][] {
  const parent = items.map((_, i) => i);
  const root = (i: number): number => {
    let at = i;
    while (parent[at] !== at) at = parent[at] = parent[parent[at]];
    return at;
  };
  const index = boxIndex(items.map(({ box }) => box));
  items.forEach((item, i) => {
    for (const j of index.near(item.box, TOUCH_MM)) {
      if (j >= i) break;
      const p = root(i);
      const q = root(j);
      // A clear object only matters to what was painted before it.
      if (p === q || !items[j].dark) continue;
      if (touch(item, items[j])) parent[Math.max(p, q)] = Math.min(p, q);
    }
  });
  const groups = new Map<number, number[]>();
  items.forEach((_, i) => {
    const key = root(i);
    const group = groups.get(key);
    if (group) group.push(i);
    else groups.set(key, [i]);
  });
  return [...groups.values()];
}

function touch(p: Item, q: Item): boolean {
  if (nearestBetween(wallsOf(p.region), wallsOf(q.region), TOUCH_MM)) return true;
  return insideRegion(p.region.outer[0], q.region) || insideRegion(q.region.outer[0], p.region);
}

/** Paints one group: runs of dark objects are united at once, runs of clear ones erase at once. */
function paint(members: readonly Item[]): Region[] {
  let image: Region[] = [];
  for (let start = 0; start < members.length; ) {
    let end = start;
    while (end < members.length && members[end].dark === members[start].dark) end += 1;
    const batch = members.slice(start, end).map(({ region }) => region);
    image = members[start].dark ? unite([...image, ...batch]) : cut(image, batch);
    start = end;
  }
  return image;
}

/** The dark items of a group that a painted region is made of. */
function partsOf(region: Region, group: readonly number[], items: readonly Item[]): number[] {
  const box = ringBounds(region.outer);
  const walls = wallsOf(region);
  return group.filter((i) => {
    const item = items[i];
    if (!item.dark || boxDistance(item.box, box) > TOUCH_MM) return false;
    const joined = joinBoxes(item.box, box);
    // Common cases first: the region holds a corner of the item, or the item a corner of the region.
    if (item.region.outer.some((p) => insideRing(p, region.outer) || distanceToWalls(p, walls) < 2e-6)) return true;
    return (
      joined.minX === item.box.minX &&
      joined.maxX === item.box.maxX &&
      region.outer.some((p) => insideRing(p, item.region.outer))
    );
  });
}

/** What all tags agree on; the kind is `mixed` where they don't. */
function commonTag(tags: readonly (OpeningTag | undefined)[]): OpeningTag | undefined {
  const [first, ...rest] = tags;
  if (!first) return undefined;
  const agreed = <T>(pick: (tag: OpeningTag) => T | undefined): T | undefined => {
    const value = pick(first);
    return rest.every((tag) => tag && pick(tag) === value) ? value : undefined;
  };
  const lines = tags.flatMap((tag) => (tag?.line === undefined ? [] : [tag.line]));
  const component = agreed((tag) => tag.component);
  const pin = agreed((tag) => tag.pin);
  const shape = agreed((tag) => tag.shape);
  const attributes = agreed((tag) => (tag.attributes ? JSON.stringify(tag.attributes) : undefined));
  return {
    drawn: agreed((tag) => tag.drawn) ?? 'mixed',
    ...(shape ? { shape } : {}),
    ...(component ? { component } : {}),
    ...(pin ? { pin } : {}),
    ...(attributes ? { attributes: JSON.parse(attributes) as Record<string, string> } : {}),
    ...(lines.length > 0 ? { line: Math.min(...lines) } : {}),
  };
}

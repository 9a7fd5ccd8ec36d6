import { boxIndex } from '../../geometry/box-index.js';
import type { OpeningTag, Region } from '../../geometry/types.js';
import { distanceToWalls, insideRegion, wallsOf } from '../../geometry/walls.js';
import { boxOf, cornersOf, type Placed } from './placed.js';

/** Corners nearer to a wall than this lie on it: the clipper's grid moved it, mm. */
const ON_WALL_MM = 2e-6;
/** Larger regions are not asked for each of their corners. */
const FEW = 4096;

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
  items: readonly Placed[],
): number[][] {
  const dark = members.filter((i) => items[i].dark);
  // Nothing was erased and all hangs together: all of it is in there.
  if (regions.length === 1 && dark.length === members.length) return [dark];
  const parts = regions.map((): number[] => []);
  const index = boxIndex(regions.map(boxOf));
  const erased = dark.length < members.length;
  for (const i of dark) {
    const item = items[i];
    // Small regions first: what lies in one of them need not be looked for in a plane with a thousand holes.
    const near = index.near(item.box, ON_WALL_MM).sort((p, q) => cornersOf(regions[p]) - cornersOf(regions[q]));
    if (!erased) {
      const found =
        near.find((k) => insideRegion(item.inside, regions[k])) ?? near.find((k) => shares(item, regions[k]));
      if (found !== undefined) parts[found].push(i);
      continue;
    }
    for (const k of near) if (shares(item, regions[k])) parts[k].push(i);
  }
  return parts;
}

/** Whether a region holds some of an object: its middle, one of its corners, or the other way round. */
function shares(item: Placed, region: Region): boolean {
  if (insideRegion(item.inside, region)) return true;
  const own = item.region;
  if (own.outer.some((p) => insideRegion(p, region))) return true;
  if (cornersOf(region) > FEW) return false;
  if (region.outer.some((p) => item.holds(p))) return true;
  const walls = wallsOf(region);
  return own.outer.some((p) => distanceToWalls(p, walls) < ON_WALL_MM);
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

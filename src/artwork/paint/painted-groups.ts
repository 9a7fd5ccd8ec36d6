import { insidePoint } from '../../geometry/area.js';
import { boxesNear, boxOf, joinBoxes } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { move } from '../../geometry/copies.js';
import type { Box, OpeningTag, Point, Region } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';
import { numbering } from '../../kept.js';
import { cut, unite } from './unite.js';

/** What a group becomes, and which of its objects each region is made of. */
export interface PaintedGroup {
  readonly regions: readonly Region[];
  /** Positions of objects, ascending, one list for each region. */
  readonly parts: readonly (readonly number[])[];
  /** Pieces that were too small to be kept. */
  readonly lost: readonly Region[];
}

/** Larger groups are seldom alike, and their description takes room. */
const MAX_MEMBERS = 512;
/** More kinds of groups are not remembered. */
const MAX_KINDS = 20_000;
/** Distances that differ by less are the same: above rounding noise, below the clipper's grid, mm. */
const SAME_MM = 1e-7;

/**
 * Paints groups of objects that meet. Groups made of the same shapes at the same distances, as on a panel or in a row
 * of painted lands, are painted once.
 */
export function groupPainter(items: readonly PlacedRegion[]): (members: readonly number[]) => PaintedGroup {
  const known = new Map<string, PaintedGroup & { x: number; y: number }>();
  const numberOf = numbering<Region>();
  const keyOf = (members: readonly number[]): string => {
    const { dx: x0, dy: y0 } = items[members[0]];
    let key = '';
    for (const i of members) {
      const { shape, dx, dy, dark } = items[i];
      key += `${numberOf(shape)}${dark ? '+' : '-'}${Math.round((dx - x0) / SAME_MM)},${Math.round((dy - y0) / SAME_MM)};`;
    }
    return key;
  };
  const paint = (members: readonly number[]): PaintedGroup => {
    const lost: Region[] = [];
    const regions = paintGroup(members, items, lost);
    return { regions, parts: partsOfRegions(regions, members, items), lost };
  };
  return (members) => {
    if (members.length > MAX_MEMBERS) return paint(members);
    const key = keyOf(members);
    const { dx, dy } = items[members[0]];
    const like = known.get(key);
    if (like) {
      const moved = (region: Region): Region => move(region, dx - like.x, dy - like.y);
      return {
        regions: like.regions.map(moved),
        lost: like.lost.map(moved),
        parts: like.parts.map((part) => part.map((k) => members[k])),
      };
    }
    const painted = paint(members);
    const place = new Map(members.map((i, k) => [i, k]));
    if (known.size < MAX_KINDS) {
      const parts = painted.parts.map((part) => part.map((i) => place.get(i) as number));
      known.set(key, { ...painted, parts, x: dx, y: dy });
    }
    return painted;
  };
}

/**
 * Paints one group in order. Objects that do not meet can be swapped, so all of a level are painted or erased at once,
 * and a plane with thousands of holes and of lands in them takes three steps.
 *
 * @param members - positions, ascending
 * @param lost - takes pieces that were too small to be kept
 */
function paintGroup(members: readonly number[], items: readonly PlacedRegion[], lost: Region[]): Region[] {
  let image: Region[] = [];
  levelsOf(members, items).forEach((level, k) => {
    if (level.length === 0) return;
    const dark = k % 2 === 0;
    const regions = gather(level, items);
    const reach = regions.map(boxOf);
    const all = reach.reduce(joinBoxes);
    const near: Region[] = [];
    const far: Region[] = [];
    for (const region of image) (meetsAny(boxOf(region), all, reach) ? near : far).push(region);
    if (!dark) image = [...far, ...cut(near, regions, lost)];
    else
      image =
        near.length === 0 && regions.length === 1 ? [...far, ...regions] : [...far, ...unite([...near, ...regions])];
  });
  return image;
}

/**
 * Dark objects on even levels, clear ones on odd ones, each one above the highest of those of the other polarity before
 * it that it meets; a clear one that meets none is left out.
 */
function levelsOf(members: readonly number[], items: readonly PlacedRegion[]): number[][] {
  if (members.every((i) => items[i].dark)) return [[...members]];
  const index = boxIndex(members, (i) => items[i].box);
  const levels: number[][] = [];
  const found: number[] = [];
  members.forEach((i, k) => {
    const { dark, box } = items[i];
    const below = index.near(box, GRID_MM).filter((j) => j < k && items[members[j]].dark !== dark);
    found[k] = below.reduce((level, j) => Math.max(level, found[j] + 1), dark ? 0 : -1);
    if (found[k] < 0) return;
    while (levels.length <= found[k]) levels.push([]);
    levels[found[k]].push(i);
  });
  return levels;
}

/** So many objects are laid out at a time. */
const CHUNK = 4096;

/** The regions of many objects, united in parts so that never all of them are laid out at once. */
function gather(level: readonly number[], items: readonly PlacedRegion[]): Region[] {
  if (level.length <= CHUNK) return level.map((i) => items[i].region);
  const parts: Region[] = [];
  for (let from = 0; from < level.length; from += CHUNK) {
    for (const region of unite(level.slice(from, from + CHUNK).map((i) => items[i].region))) parts.push(region);
  }
  return parts;
}

const meets = (p: Box, q: Box): boolean => boxesNear(p, q, 1e-6);

/** Few objects are looked at one by one; of many, their common box must do. */
function meetsAny(box: Box, all: Box, each: readonly Box[]): boolean {
  return meets(box, all) && (each.length > 64 || each.some((other) => meets(box, other)));
}

/** Boxes nearer than the clipper's grid may have moved them, mm. */
const GRID_MM = 2e-6;

/**
 * The dark objects that each painted region is made of, told by the middles of both that nothing erased.
 *
 * @param regions - of one group, after painting
 * @param members - the group's objects, positions ascending
 * @returns one ascending list for each region
 */
function partsOfRegions(
  regions: readonly Region[],
  members: readonly number[],
  items: readonly PlacedRegion[],
): (readonly number[])[] {
  const dark = members.filter((i) => items[i].dark);
  const clear = members.filter((i) => !items[i].dark);
  // Nothing was erased and all hangs together: all of it is in there.
  if (regions.length === 1 && clear.length === 0) return [dark];
  const parts = regions.map((): number[] => []);
  const index = boxIndex(regions, boxOf);
  for (const i of dark) {
    const item = items[i];
    const isSeen = (point: Point): boolean => !clear.some((k) => k > i && items[k].holds(point));
    // Small regions first: what lies in one of them need not be looked for in a plane with a thousand holes.
    const near = index.near(item.box, GRID_MM).sort((p, q) => cornersOf(regions[p]) - cornersOf(regions[q]));
    const home = isSeen(item.inside) ? near.find((k) => insideRegion(item.inside, regions[k])) : undefined;
    for (const k of near) {
      const own = insidePoint(regions[k]);
      if (k === home || (item.holds(own) && isSeen(own))) parts[k].push(i);
    }
  }
  return parts.map((part) => (part.length > 0 ? part : dark));
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

/** One region of one object, where it lies. Copies of an aperture share their region; only what is asked for is moved. */
export class PlacedRegion {
  private kept: Region | undefined;

  constructor(
    /** Its region about its own origin; the same object for copies. */
    readonly shape: Region,
    readonly dx: number,
    readonly dy: number,
    readonly dark: boolean,
    readonly tag: OpeningTag | undefined,
  ) {}

  /** The region, mm. Made anew on each call, since keeping all of a painted layer would fill the memory. */
  get region(): Region {
    return this.kept ?? (this.dx === 0 && this.dy === 0 ? this.shape : move(this.shape, this.dx, this.dy));
  }

  /** The region, for questions that will be asked again. */
  get keptRegion(): Region {
    this.kept ??= this.region;
    return this.kept;
  }

  /** Whether a point lies in it. */
  holds([x, y]: Point): boolean {
    const [localX, localY] = [x - this.dx, y - this.dy];
    const { minX, minY, maxX, maxY } = boxOf(this.shape);
    if (localX < minX || localX > maxX || localY < minY || localY > maxY) return false;
    return insideRegion([localX, localY], this.shape);
  }

  get box(): Box {
    const { minX, minY, maxX, maxY } = boxOf(this.shape);
    return { minX: minX + this.dx, minY: minY + this.dy, maxX: maxX + this.dx, maxY: maxY + this.dy };
  }

  /** A point well inside. */
  get inside(): [number, number] {
    const [x, y] = insidePoint(this.shape);
    return [x + this.dx, y + this.dy];
  }

  /** Whether this is an axis-parallel rectangle, which its box tells all about. */
  get isBox(): boolean {
    return isBox(this.shape);
  }
}

/** Number of corners of a region, islands included. */
export function cornersOf({ outer, islands }: Region): number {
  return islands.reduce((count, ring) => count + ring.length, outer.length);
}

function isBox({ outer, islands }: Region): boolean {
  if (islands.length > 0 || outer.length !== 4) return false;
  const [p, q, r, s] = outer;
  const wide = p[1] === q[1] && q[0] === r[0] && r[1] === s[1] && s[0] === p[0];
  return wide || (p[0] === q[0] && q[1] === r[1] && r[0] === s[0] && s[1] === p[1]);
}

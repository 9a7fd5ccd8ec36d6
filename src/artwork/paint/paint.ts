import { InputError } from '../../errors.js';
import { boxesNear, boxOf, joinBoxes } from '../../geometry/bounds.js';
import type { Box, Region } from '../../geometry/types.js';
import { cut, unite } from './clip.js';
import { cornersOf, type PlacedRegion } from './placed.js';

/** Points that painting over and over may go through; some ten seconds of clipping. */
const MAX_WORK = 10_000_000;

/**
 * Paints one group in order. Objects that do not meet can be swapped, so each gets a level: one above the highest of
 * the earlier ones of the other polarity that it meets. All of a level are then painted or erased at once, and a plane
 * with thousands of holes and of lands in them takes three steps.
 *
 * @param members - positions, ascending
 * @param opposites - earlier ones of the other polarity that an object meets
 * @param lost - takes pieces that were too small to be kept
 */
export function paintGroup(
  members: readonly number[],
  items: readonly PlacedRegion[],
  opposites: ReadonlyMap<number, number[]>,
  lost: Region[] = [],
): Region[] {
  const levels = levelsOf(members, items, opposites);
  let image: Region[] = [];
  let work = 0;
  levels.forEach((level, k) => {
    if (level.length === 0) return;
    const dark = k % 2 === 0;
    const regions = gather(level, items);
    const reach = regions.map(boxOf);
    const all = reach.reduce(joinBoxes);
    const near: Region[] = [];
    const far: Region[] = [];
    for (const region of image) (meetsAny(boxOf(region), all, reach) ? near : far).push(region);
    if (k > 0) {
      work += [...near, ...regions].reduce((n, region) => n + cornersOf(region), 0);
      if (work > MAX_WORK) throw tooMuch();
    }
    if (!dark) image = [...far, ...cut(near, regions, lost)];
    else
      image =
        near.length === 0 && regions.length === 1 ? [...far, ...regions] : [...far, ...unite([...near, ...regions])];
  });
  return image;
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

/** Dark objects on even levels, clear ones on odd ones; a clear one that meets nothing before it is left out. */
function levelsOf(
  members: readonly number[],
  items: readonly PlacedRegion[],
  opposites: ReadonlyMap<number, number[]>,
): number[][] {
  const levelOf = new Map<number, number>();
  const levels: number[][] = [];
  for (const i of members) {
    let level = items[i].dark ? 0 : -1;
    for (const j of opposites.get(i) ?? []) level = Math.max(level, (levelOf.get(j) ?? -1) + 1);
    if (level < 0) continue;
    // A clear object above nothing that is painted in this group would land on an even level.
    if ((level % 2 === 0) !== items[i].dark) continue;
    levelOf.set(i, level);
    while (levels.length <= level) levels.push([]);
    levels[level].push(i);
  }
  return levels;
}

const meets = (p: Box, q: Box): boolean => boxesNear(p, q, 1e-6);

/** Few objects are looked at one by one; of many, their common box must do. */
function meetsAny(box: Box, all: Box, each: readonly Box[]): boolean {
  return meets(box, all) && (each.length > 64 || each.some((other) => meets(box, other)));
}

function tooMuch(): InputError {
  return new InputError({
    code: 'TOO_MUCH',
    message: 'dark and clear are painted over each other too many times to be worked out.',
    hint: 'No paste layer needs that; check that this is the right file.',
  });
}

import { InputError } from '../../errors.js';
import type { Box, Region } from '../../geometry/types.js';
import { cut, unite } from '../gerber/clip.js';
import { boxOf, type Placed } from './placed.js';

/** Points that painting over and over may go through; some ten seconds of clipping. */
const MAX_WORK = 10_000_000;

/**
 * Paints one group in order. Objects that do not meet can be swapped, so each gets a level: one above the highest of
 * the earlier ones of the other polarity that it meets. All of a level are then painted or erased at once, and a plane
 * with thousands of holes and of lands in them takes three steps.
 *
 * @param members - positions, ascending
 * @param opposites - earlier ones of the other polarity that an object meets
 */
export function paintGroup(
  members: readonly number[],
  items: readonly Placed[],
  opposites: ReadonlyMap<number, number[]>,
): Region[] {
  const levels = levelsOf(members, items, opposites);
  let image: Region[] = [];
  let work = 0;
  levels.forEach((level, k) => {
    const regions = level.map((i) => items[i].region);
    if (regions.length === 0) return;
    const dark = k % 2 === 0;
    const reach = regions.map(boxOf);
    const near: Region[] = [];
    const far: Region[] = [];
    const all = reach.reduce(joined);
    for (const region of image) (meetsAny(boxOf(region), all, reach) ? near : far).push(region);
    if (k > 0) {
      work += [...near, ...regions].reduce(
        (n, r) => n + r.outer.length + r.islands.reduce((m, s) => m + s.length, 0),
        0,
      );
      if (work > MAX_WORK) throw tooMuch();
    }
    image = [...far, ...(dark ? unite([...near, ...regions]) : cut(near, regions))];
  });
  return image;
}

/** Dark objects on even levels, clear ones on odd ones; a clear one that meets nothing before it is left out. */
function levelsOf(
  members: readonly number[],
  items: readonly Placed[],
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

const joined = (p: Box, q: Box): Box => ({
  minX: Math.min(p.minX, q.minX),
  minY: Math.min(p.minY, q.minY),
  maxX: Math.max(p.maxX, q.maxX),
  maxY: Math.max(p.maxY, q.maxY),
});

const meets = (p: Box, q: Box): boolean =>
  p.minX <= q.maxX + 1e-6 && q.minX <= p.maxX + 1e-6 && p.minY <= q.maxY + 1e-6 && q.minY <= p.maxY + 1e-6;

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

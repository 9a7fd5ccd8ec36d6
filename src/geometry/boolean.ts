import { Clipper, ClipType, FillRule, type Path64, type Paths64 } from 'clipper2-ts';
import { insidePoint, ringArea } from './area.js';
import { boxWithin, joinBoxes, ringBounds } from './bounds.js';
import { boxIndex } from './box-index.js';
import { decimalGridFor, fromPath, type Grid, payForClip, toDecimalPath } from './clip-work.js';
import type { PerAxis, Point, Region, Ring } from './types.js';
import { insideRing } from './walls.js';

function ringsOf(regions: readonly Region[]): Ring[] {
  return regions.flatMap((region) => [region.outer, ...region.islands]);
}

function gridOf(rings: readonly Ring[]): Grid {
  return decimalGridFor(rings.map(ringBounds).reduce(joinBoxes));
}

function run(type: ClipType, subject: readonly Ring[], clip: readonly Ring[], fill: FillRule): Region[] {
  if (subject.length === 0) return [];
  const grid = gridOf([...subject, ...clip]);
  const paths = (rings: readonly Ring[]): Paths64 => rings.map((ring) => toDecimalPath(grid, ring));
  const [first, second] = [paths(subject), paths(clip)];
  payForClip([...first, ...second]);
  const found = Clipper.booleanOp(type, first, second.length > 0 ? second : null, fill);
  return regionsFromPaths(grid, found);
}

/**
 * Union of rings under a fill rule; the result's outer rings run counter-clockwise and its islands clockwise.
 * Regions that only touch at a point stay apart. Call it once per touching group: cost grows faster than linearly.
 *
 * @throws {InputError} TOO_MUCH within the limits of a `WorkBudget`; so do the others
 */
export function unionRings(rings: readonly Ring[], fill: 'nonzero' | 'evenodd' = 'nonzero'): Region[] {
  return run(ClipType.Union, rings, [], fill === 'nonzero' ? FillRule.NonZero : FillRule.EvenOdd);
}

/** Union of regions that may overlap. */
export function unionRegions(regions: readonly Region[]): Region[] {
  return run(ClipType.Union, ringsOf(regions), [], FillRule.NonZero);
}

/** What of `regions` is not covered by `cutters`. */
export function subtractRegions(regions: readonly Region[], cutters: readonly Region[]): Region[] {
  return run(ClipType.Difference, ringsOf(regions), ringsOf(cutters), FillRule.NonZero);
}

/** What `regions` and `others` share. */
export function intersectRegions(regions: readonly Region[], others: readonly Region[]): Region[] {
  return run(ClipType.Intersection, ringsOf(regions), ringsOf(others), FillRule.NonZero);
}

/**
 * Sorts what the clipper found into regions: outer rings run counter-clockwise, holes clockwise, and none cross.
 * The clipper's own nesting asks every hole against every corner around it. Regions that hang together at a point only
 * come apart there.
 */
export function regionsFromPaths(grid: Grid, paths: Paths64): Region[] {
  const outers: Ring[] = [];
  const holes: Ring[] = [];
  for (const path of paths) {
    if (Clipper.area(path) < 0) holes.push(fromPath(grid, path));
    else for (const loop of apartAtPoints(path)) outers.push(fromPath(grid, loop));
  }
  if (holes.length === 0) return outers.map((outer) => ({ outer, islands: [] }));
  const islands = outers.map((): Ring[] => []);
  if (outers.length === 1) islands[0] = holes;
  else {
    const areas = outers.map(ringArea);
    const index = boxIndex(outers, ringBounds);
    for (const hole of holes) {
      const box = ringBounds(hole);
      // The smallest ring that holds it; of those whose boxes do, one must.
      const around = index
        .near(box)
        .filter((i) => boxWithin(box, ringBounds(outers[i])))
        .sort((p, q) => areas[p] - areas[q]);
      const room = -ringArea(hole);
      let inside: Point | undefined;
      const owner = around.find((i, k) => {
        if (k === around.length - 1) return true;
        if (areas[i] <= room) return false;
        // Corners may lie on walls of another region; a point well within the hole lies on none.
        inside ??= insidePoint({ outer: hole, islands: [] });
        return insideRing(inside, outers[i]);
      });
      if (owner !== undefined) islands[owner].push(hole);
    }
  }
  return outers.map((outer, i) => ({ outer, islands: islands[i] }));
}

/** A number for a grid point. */
const keyOf = ({ x, y }: PerAxis): number => x * 2 ** 26 + y;

/**
 * Cuts a path at points that it passes twice into loops that run counter-clockwise. Film that touches the edge at a
 * point (a loop that runs clockwise) stays in its loop.
 */
function apartAtPoints(path: Path64): Path64[] {
  const keys = path.map(keyOf);
  if (new Set(keys).size === path.length) return [path];
  // From the leftmost point on, what is left at the end is an outer loop too.
  const first = keys.reduce((least, key, i) => (key < keys[least] ? i : least), 0);
  const stack: Path64 = [];
  const loops: Path64[] = [];
  const place = new Map<number, number>();
  for (let i = 0; i < path.length; i += 1) {
    const point = path[(first + i) % path.length];
    const key = keyOf(point);
    const from = place.get(key);
    if (from !== undefined && Clipper.area(stack.slice(from)) > 0) {
      const loop = stack.splice(from);
      for (const cut of loop) if ((place.get(keyOf(cut)) ?? -1) >= from) place.delete(keyOf(cut));
      loops.push(loop);
    }
    if (!place.has(key)) place.set(key, stack.length);
    stack.push(point);
  }
  return Clipper.area(stack) > 0 ? [...loops, stack] : [path];
}

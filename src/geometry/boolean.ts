import { Clipper, ClipType, FillRule, type Path64, type Paths64 } from 'clipper2-ts';
import { listIn } from '../kept.js';
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
  for (const path of apartAtPoints(paths)) (Clipper.area(path) < 0 ? holes : outers).push(fromPath(grid, path));
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
 * The same walls where paths pass points more than once, joined anew so that what hangs together at points only comes
 * apart there: each loop goes on along the wall that keeps its own region on the left. Film that touches an edge at one
 * point stays as it is.
 */
function apartAtPoints(paths: Paths64): Paths64 {
  const passes = new Map<number, number>();
  const points = paths.flat();
  for (const point of points) passes.set(keyOf(point), (passes.get(keyOf(point)) ?? 0) + 1);
  if (passes.size === points.length) return paths;
  const isShared = (point: PerAxis): boolean => passes.get(keyOf(point)) !== 1;
  const hung = new Set(paths.filter((path) => path.filter(isShared).length > 1));
  const ahead = new Map<number, Wall[]>();
  const walls = [...hung].flatMap((path) => path.map((from, i): Wall => ({ from, to: path[(i + 1) % path.length] })));
  for (const wall of walls) listIn(ahead, keyOf(wall.from)).push(wall);
  const left = new Set(walls);
  const loops = paths.filter((path) => !hung.has(path));
  for (const first of left) {
    const loop: Path64 = [];
    let wall = first;
    do {
      loop.push(wall.from);
      // Where walls lie on each other, two may lead to one: each is taken once, or loops would not close.
      const ways = listIn(ahead, keyOf(wall.to)).filter((way) => left.has(way));
      wall = firstClockwise(wall, ways);
      left.delete(wall);
    } while (wall !== first);
    loops.push(loop);
  }
  return loops;
}

interface Wall {
  readonly from: Path64[number];
  readonly to: Path64[number];
}

/** Of the walls that lead on from the end of one, the one that has the same region on its left. */
function firstClockwise({ from, to: at }: Wall, ways: readonly Wall[]): Wall {
  if (ways.length === 1) return ways[0];
  const back = Math.atan2(from.y - at.y, from.x - at.x);
  const turns = ways.map(({ to }) => (back - Math.atan2(to.y - at.y, to.x - at.x) + 4 * Math.PI) % (2 * Math.PI));
  return ways[turns.indexOf(Math.min(...turns))];
}

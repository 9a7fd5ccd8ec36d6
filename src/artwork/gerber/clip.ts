import { Clipper, ClipType, FillRule, type Path64, type Paths64, PolyTree64 } from 'clipper2-ts';
import { InputError } from '../../errors.js';
import { fromPath, type Grid } from '../../geometry/boolean.js';
import { joinBoxes, ringBounds } from '../../geometry/bounds.js';
import type { Box, Region, Ring } from '../../geometry/types.js';
import { insideRing } from '../../geometry/walls.js';
import { nearPairs } from '../compose/near-pairs.js';
import { boxOf } from '../compose/placed.js';
import { withoutFilmSlivers, withoutSlivers } from '../compose/slivers.js';

// Layers are written on decimal grids. With a decimal clipper grid the edges of two abutting pads land on the same
// step, whatever rounding their sums went through; products of two coordinates must stay below 2^53.
const STEPS_PER_MM = [1e6, 5e5, 2e5, 1e5, 5e4, 2e4, 1e4, 1e3, 1e2];
const MAX_STEPS = 2 ** 25;
/** Lifts ties, which sums such as x + w/2 hit often, over the rounding noise of doubles. */
const TIE_BIAS = 1e-3;

function gridFor(box: Box): Grid {
  const half = Math.max(box.maxX - box.minX, box.maxY - box.minY) / 2;
  const scale = STEPS_PER_MM.find((steps) => half * steps < MAX_STEPS) ?? 1;
  return { x0: Math.round((box.minX + box.maxX) / 2), y0: Math.round((box.minY + box.maxY) / 2), scale };
}

function toPath({ x0, y0, scale }: Grid, ring: Ring): Path64 {
  return ring.map(([x, y]) => ({
    x: Math.floor((x - x0) * scale + 0.5 + TIE_BIAS),
    y: Math.floor((y - y0) * scale + 0.5 + TIE_BIAS),
  }));
}

function ringsOf(regions: readonly Region[]): Ring[] {
  return regions.flatMap((region) => [region.outer, ...region.islands]);
}

function run(type: ClipType, subject: readonly Ring[], clip: readonly Ring[]): Region[] {
  if (subject.length === 0) return [];
  const grid = gridFor([...subject, ...clip].map(ringBounds).reduce(joinBoxes));
  const tree = new PolyTree64();
  const paths = (rings: readonly Ring[]): Paths64 => rings.map((ring) => toPath(grid, ring));
  Clipper.booleanOpWithPolyTree(type, paths(subject), clip.length > 0 ? paths(clip) : null, tree, FillRule.NonZero);
  return regionsOf(grid, tree);
}

/** Reads the clipper's nesting. Openings that hang together at a point only come apart there. */
function regionsOf(grid: Grid, tree: PolyTree64): Region[] {
  const regions: Region[] = [];
  const walk = (node: PolyTree64): void => {
    for (let i = 0; i < node.count; i += 1) {
      const outer = node.child(i) as PolyTree64;
      const islands: Ring[] = [];
      for (let j = 0; j < outer.count; j += 1) {
        const hole = outer.child(j) as PolyTree64;
        if (hole.polygon) islands.push(fromPath(grid, hole.polygon));
        walk(hole);
      }
      if (!outer.polygon) continue;
      const loops = apartAtPoints(outer.polygon).map((path) => fromPath(grid, path));
      if (loops.length === 1) regions.push({ outer: loops[0], islands });
      else
        for (const loop of loops) regions.push({ outer: loop, islands: islands.filter((ring) => liesIn(ring, loop)) });
    }
  };
  walk(tree);
  return regions;
}

const liesIn = (ring: Ring, outer: Ring): boolean => ring.some((p) => insideRing(p, outer));

/** A number for a grid point. */
const keyOf = ({ x, y }: { readonly x: number; readonly y: number }): number => x * 2 ** 26 + y;

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

/** What lies inside any of the rings (non-zero winding), as regions. */
export function fillRings(rings: readonly Ring[]): Region[] {
  return withoutFilmSlivers(run(ClipType.Union, rings, []));
}

/** What of `regions` the cutters leave, without slivers of rounding. */
export function cut(regions: readonly Region[], cutters: readonly Region[]): Region[] {
  if (regions.length === 0 || cutters.length === 0) return [...regions];
  return withoutSlivers(run(ClipType.Difference, ringsOf(regions), ringsOf(gathered(cutters))));
}

/** More than this many at once, all overlapping, would meet in too many points. */
const BATCH = 24;
/** With more overlaps than this left between unions of neighbours, the crossings alone would fill the memory. */
const MAX_OVERLAPS = 500_000;

/**
 * Union of many regions. Neighbours are united first and their unions then, so that a pad painted over and over
 * costs little more than one painted once.
 *
 * @throws {InputError} TOO_MUCH for a hatch of thousands of lines across thousands of others
 */
export function unite(regions: readonly Region[]): Region[] {
  return withoutFilmSlivers(run(ClipType.Union, ringsOf(gathered(regions)), []));
}

/** The same area in fewer regions: neighbours united, as long as that makes them fewer. */
function gathered(regions: readonly Region[]): readonly Region[] {
  if (regions.length <= BATCH) return regions;
  const sorted = neighboursFirst(regions);
  const next: Region[] = [];
  for (let i = 0; i < sorted.length; i += BATCH) {
    for (const region of run(ClipType.Union, ringsOf(sorted.slice(i, i + BATCH)), [])) next.push(region);
  }
  if (next.length <= regions.length * 0.7) return gathered(next);
  let overlaps = 0;
  const few = nearPairs(next.map(boxOf), 0, () => {
    overlaps += 1;
    return overlaps <= MAX_OVERLAPS;
  });
  if (!few) {
    throw new InputError({
      code: 'TOO_MUCH',
      message: `more than ${MAX_OVERLAPS} places where one shape crosses another.`,
      hint: 'No paste layer has that; check that this is the right file.',
    });
  }
  return next;
}

/** Sorts into vertical strips, and within them upwards, so that each batch lies close together. */
function neighboursFirst(regions: readonly Region[]): Region[] {
  const items = regions.map((region) => {
    const box = boxOf(region);
    return { region, x: box.minX + box.maxX, y: box.minY + box.maxY };
  });
  items.sort((p, q) => p.x - q.x);
  const strip = Math.ceil(Math.sqrt(regions.length / BATCH)) * BATCH;
  const sorted: Region[] = [];
  for (let i = 0; i < items.length; i += strip) {
    const column = items.slice(i, i + strip).sort((p, q) => p.y - q.y);
    for (const item of column) sorted.push(item.region);
  }
  return sorted;
}

import { Clipper, ClipType, FillRule, type Path64, type Paths64, PolyTree64 } from 'clipper2-ts';
import { ringBounds } from './bounds.js';
import type { Box, Region, Ring } from './types.js';

/** Integer grid used inside the clipper: a local origin, and the finest power of two that keeps products exact. */
export interface Grid {
  readonly x0: number;
  readonly y0: number;
  /** Grid steps per mm. */
  readonly scale: number;
}

// Products of two grid coordinates must stay below 2^53; 2^25 leaves a bit for sums. 2^20 steps/mm is about 1 nm.
const MAX_COORDINATE = 2 ** 25;
const MAX_SCALE = 2 ** 20;

export function gridFor(box: Box): Grid {
  const half = Math.max(box.maxX - box.minX, box.maxY - box.minY, 1e-6) / 2;
  const scale = Math.min(MAX_SCALE, 2 ** Math.floor(Math.log2(MAX_COORDINATE / half)));
  return { x0: (box.minX + box.maxX) / 2, y0: (box.minY + box.maxY) / 2, scale };
}

export function toPath({ x0, y0, scale }: Grid, ring: Ring): Path64 {
  return ring.map(([x, y]) => ({ x: Math.round((x - x0) * scale), y: Math.round((y - y0) * scale) }));
}

export function fromPath({ x0, y0, scale }: Grid, path: Path64): Ring {
  return path.map(({ x, y }): [number, number] => [x / scale + x0, y / scale + y0]);
}

/** Reads the clipper's nesting of outer rings and holes into regions. */
export function fromTree(grid: Grid, tree: PolyTree64): Region[] {
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
      if (outer.polygon) regions.push({ outer: fromPath(grid, outer.polygon), islands });
    }
  };
  walk(tree);
  return regions;
}

function ringsOf(regions: readonly Region[]): Ring[] {
  return regions.flatMap((region) => [region.outer, ...region.islands]);
}

function boxOfRings(rings: readonly Ring[]): Box {
  let box: Box = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };
  for (const ring of rings) {
    const b = ringBounds(ring);
    box = {
      minX: Math.min(box.minX, b.minX),
      minY: Math.min(box.minY, b.minY),
      maxX: Math.max(box.maxX, b.maxX),
      maxY: Math.max(box.maxY, b.maxY),
    };
  }
  return box;
}

function run(type: ClipType, subject: readonly Ring[], clip: readonly Ring[], fill: FillRule): Region[] {
  if (subject.length === 0) return [];
  const grid = gridFor(boxOfRings([...subject, ...clip]));
  const tree = new PolyTree64();
  const paths = (rings: readonly Ring[]): Paths64 => rings.map((ring) => toPath(grid, ring));
  Clipper.booleanOpWithPolyTree(type, paths(subject), clip.length > 0 ? paths(clip) : null, tree, fill);
  return fromTree(grid, tree);
}

/**
 * Union of rings under a fill rule; the result's outer rings run counter-clockwise and its islands clockwise.
 * Regions that only touch at a point stay apart. Call it once per touching group: cost grows faster than linearly.
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
  if (others.length === 0) return [];
  return run(ClipType.Intersection, ringsOf(regions), ringsOf(others), FillRule.NonZero);
}

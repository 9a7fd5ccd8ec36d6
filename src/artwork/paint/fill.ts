import { counterClockwise, orient } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { NO_AREA_MM2 } from '../../geometry/clean.js';
import { isConvex } from '../../geometry/convex.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import type { Box, Point, Region, Ring } from '../../geometry/types.js';
import { insideRing } from '../../geometry/walls.js';
import { unionOfRings } from './clip.js';

export type FillRule = 'nonzero' | 'evenodd';

/**
 * What a path fills. Rings that neither cross nor touch keep their points to the last digit; only the others go
 * through the clipper.
 *
 * @param rings - mm, any direction; open paths count as closed
 */
export function fillRings(rings: readonly Ring[], rule: FillRule): Region[] {
  const solid = rings.map(withoutRepeats).filter((ring) => ring.length >= 3);
  if (solid.length === 1) return fillCluster(solid, rule);
  const boxes = solid.map(ringBounds);
  return clusters(boxes).flatMap((members) =>
    fillCluster(
      members.map((i) => solid[i]),
      rule,
    ),
  );
}

function fillCluster(group: readonly Ring[], rule: FillRule): Region[] {
  if (group.length === 1 && isConvex(counterClockwise(group[0]))) return region(group[0], []);
  return crossing(group) ? unionOfRings(group, rule).filter(hasArea) : nest(group, rule);
}

const hasArea = ({ outer }: Region): boolean => Math.abs(ringArea(outer)) > NO_AREA_MM2;

function region(outer: Ring, islands: readonly Ring[]): Region[] {
  return Math.abs(ringArea(outer)) <= NO_AREA_MM2 ? [] : [orient({ outer, islands })];
}

function withoutRepeats(ring: Ring): Ring {
  const kept = ring.filter((p, i) => {
    const q = ring[(i + 1) % ring.length];
    return p[0] !== q[0] || p[1] !== q[1];
  });
  return kept.length === ring.length ? ring : kept;
}

/** Groups of rings whose boxes meet, directly or through others. */
function clusters(boxes: readonly Box[]): number[][] {
  if (boxes.length <= 1) return boxes.map((_, i) => [i]);
  const sets = new DisjointSets(boxes.length);
  boxIndex(boxes, (box) => box).eachPair((i, j) => sets.join(i, j));
  return sets.groups();
}

interface Edge {
  readonly p: Point;
  readonly q: Point;
  readonly minX: number;
  readonly maxX: number;
  readonly minY: number;
  readonly maxY: number;
  readonly ring: number;
  readonly place: number;
}

/** Whether any two walls cross or touch, other than neighbours at their common corner. */
function crossing(rings: readonly Ring[]): boolean {
  const edges = rings.flatMap((ring, r) =>
    ring.map((p, i): Edge => {
      const q = ring[(i + 1) % ring.length];
      return {
        p,
        q,
        minX: Math.min(p[0], q[0]),
        maxX: Math.max(p[0], q[0]),
        minY: Math.min(p[1], q[1]),
        maxY: Math.max(p[1], q[1]),
        ring: r,
        place: i,
      };
    }),
  );
  edges.sort((a, b) => a.minX - b.minX);
  let open: Edge[] = [];
  for (const edge of edges) {
    let kept = 0;
    for (const other of open) {
      if (other.maxX < edge.minX) continue;
      open[kept] = other;
      kept += 1;
      if (other.maxY < edge.minY || other.minY > edge.maxY) continue;
      if (meet(edge, other, rings[edge.ring].length)) return true;
    }
    open.length = kept;
    open.push(edge);
  }
  open = [];
  return false;
}

const side = (a: Point, b: Point, c: Point): number => (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

function meet(e: Edge, f: Edge, count: number): boolean {
  if (e.ring === f.ring) {
    const [first, second] =
      (e.place + 1) % count === f.place ? [e, f] : (f.place + 1) % count === e.place ? [f, e] : [];
    if (first && second) {
      // Neighbours meet in one point unless the path turns back on itself.
      if (side(first.p, first.q, second.q) !== 0) return false;
      const along =
        (first.q[0] - first.p[0]) * (second.q[0] - second.p[0]) +
        (first.q[1] - first.p[1]) * (second.q[1] - second.p[1]);
      return along < 0;
    }
  }
  const s1 = side(e.p, e.q, f.p);
  const s2 = side(e.p, e.q, f.q);
  if ((s1 > 0 && s2 > 0) || (s1 < 0 && s2 < 0)) return false;
  const s3 = side(f.p, f.q, e.p);
  const s4 = side(f.p, f.q, e.q);
  return !((s3 > 0 && s4 > 0) || (s3 < 0 && s4 < 0));
}

/** Regions of rings that do not meet: each is a wall of the filling if the rule changes its mind there. */
function nest(rings: readonly Ring[], rule: FillRule): Region[] {
  const index = boxIndex(rings, ringBounds);
  const around = rings.map((ring, i) => {
    const [x, y] = ring[0];
    return index.near({ minX: x, maxX: x, minY: y, maxY: y }).filter((j) => j !== i && insideRing(ring[0], rings[j]));
  });
  const turn = rings.map((ring) => (ringArea(ring) < 0 ? -1 : 1));
  const filled = (winding: number, depth: number): boolean => (rule === 'nonzero' ? winding !== 0 : depth % 2 === 1);
  const kind = rings.map((_, i): 'outer' | 'island' | 'none' => {
    const winding = around[i].reduce((sum, j) => sum + turn[j], 0);
    const without = filled(winding, around[i].length);
    const within = filled(winding + turn[i], around[i].length + 1);
    return without === within ? 'none' : within ? 'outer' : 'island';
  });
  const islands = rings.map((): Ring[] => []);
  rings.forEach((ring, i) => {
    if (kind[i] !== 'island') return;
    // The outer ring nearest around it lies inside the most other rings.
    const owner = around[i].filter((j) => kind[j] === 'outer').sort((p, q) => around[q].length - around[p].length)[0];
    if (owner !== undefined) islands[owner].push(ring);
  });
  return rings.flatMap((ring, i) => (kind[i] === 'outer' ? region(ring, islands[i]) : []));
}

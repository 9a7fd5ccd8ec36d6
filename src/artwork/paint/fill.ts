import { counterClockwise, orient } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { boxDistance, ringBounds } from '../../geometry/bounds.js';

import { boxIndex } from '../../geometry/box-index.js';
import { NO_AREA_MM2 } from '../../geometry/clean.js';
import { isConvex } from '../../geometry/convex.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import type { Box, Region, Ring } from '../../geometry/types.js';
import { unionOfRings } from './clip.js';

export type FillRule = 'nonzero' | 'evenodd';

/**
 * What a path fills. Convex rings that lie apart keep their points to the last digit; the others go through the clipper.
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
  return unionOfRings(group, rule).filter(hasArea);
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
  const index = boxIndex(boxes, (box) => box);
  boxes.forEach((box, i) => {
    for (const j of index.near(box)) {
      if (j >= i) break;
      if (!sets.areTogether(i, j) && boxDistance(box, boxes[j]) === 0) sets.join(i, j);
    }
  });
  return sets.groups();
}

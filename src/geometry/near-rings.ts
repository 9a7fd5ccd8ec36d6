import type { Path64 } from 'clipper2-ts';
import { DisjointSets } from './disjoint-sets.js';

/** Cells of the grid that walls are put into; more would cost more than they spare. */
const MOST_CELLS = 300_000;
/** Cell coordinates stay below this, so that two of them make one key. */
const KEY = 2 ** 24;

/**
 * Parts rings into groups: rings whose walls come nearer to each other than a gap are in one group, those of two groups
 * never do. Rings that lie within each other with room between are apart.
 *
 * @param gap - in the same steps as the rings, > 0
 * @returns positions, each group ascending, groups by their first member
 */
export function nearRings(rings: readonly Path64[], gap: number): number[][] {
  const sets = new DisjointSets(rings.length);
  const walls = wallsIn(rings);
  const cell = cellFor(walls, gap);
  const cells = new Map<number, number[]>();
  forEachCell(walls, cell, gap / 2, (key, wall) => {
    const list = cells.get(key);
    if (!list) {
      cells.set(key, [wall]);
      return;
    }
    for (const other of list) {
      const [p, q] = [walls.ring[other], walls.ring[wall]];
      if (!sets.areTogether(p, q) && wallsWithin(walls, other, wall, gap)) sets.join(p, q);
    }
    list.push(wall);
  });
  return sets.groups();
}

interface FlatWalls {
  readonly xy: Float64Array;
  readonly ring: Int32Array;
  readonly length: number;
}

function wallsIn(rings: readonly Path64[]): FlatWalls {
  const count = rings.reduce((sum, ring) => sum + ring.length, 0);
  const xy = new Float64Array(4 * count);
  const ring = new Int32Array(count);
  let at = 0;
  let length = 0;
  rings.forEach((path, r) => {
    let last = path[path.length - 1];
    for (const point of path) {
      xy.set([last.x, last.y, point.x, point.y], 4 * at);
      ring[at] = r;
      length += Math.abs(point.x - last.x) + Math.abs(point.y - last.y);
      at += 1;
      last = point;
    }
  });
  return { xy, ring, length };
}

/** Two gaps wide, or wider where the walls are so long that they would lie in too many. */
function cellFor({ ring, length }: FlatWalls, gap: number): number {
  return Math.max(2 * gap, length / ring.length / 4, length / MOST_CELLS);
}

/** Visits every cell that comes nearer to a wall than `room`, and perhaps some beside it; each once a wall. */
function forEachCell(
  { xy, ring }: FlatWalls,
  cell: number,
  room: number,
  visit: (key: number, wall: number) => void,
): void {
  for (let wall = 0; wall < ring.length; wall += 1) {
    const [ax, ay, bx, by] = xy.subarray(4 * wall, 4 * wall + 4);
    const [left, right] = ax < bx ? [ax, bx] : [bx, ax];
    const slope = bx === ax ? 0 : (by - ay) / (bx - ax);
    const last = Math.floor((right + room) / cell);
    for (let column = Math.floor((left - room) / cell); column <= last; column += 1) {
      // The stretch of the wall that can come near to this column.
      const from = Math.max(left, column * cell - room);
      const to = Math.min(right, (column + 1) * cell + room);
      const y0 = bx === ax ? ay : ay + (from - ax) * slope;
      const y1 = bx === ax ? by : ay + (to - ax) * slope;
      const lastRow = Math.floor((Math.max(y0, y1) + room) / cell);
      for (let row = Math.floor((Math.min(y0, y1) - room) / cell); row <= lastRow; row += 1) {
        visit((column + KEY / 2) * KEY + row + KEY / 2, wall);
      }
    }
  }
}

function wallsWithin({ xy }: FlatWalls, p: number, q: number, gap: number): boolean {
  const [a, b] = [4 * p, 4 * q];
  const dx = Math.max(
    0,
    Math.min(xy[a], xy[a + 2]) - Math.max(xy[b], xy[b + 2]),
    Math.min(xy[b], xy[b + 2]) - Math.max(xy[a], xy[a + 2]),
  );
  if (dx >= gap) return false;
  const dy = Math.max(
    0,
    Math.min(xy[a + 1], xy[a + 3]) - Math.max(xy[b + 1], xy[b + 3]),
    Math.min(xy[b + 1], xy[b + 3]) - Math.max(xy[a + 1], xy[a + 3]),
  );
  if (dx * dx + dy * dy >= gap * gap) return false;
  return (
    pointWithin(xy, a, b, gap) ||
    pointWithin(xy, a + 2, b, gap) ||
    pointWithin(xy, b, a, gap) ||
    pointWithin(xy, b + 2, a, gap)
  );
}

/** Whether the point at `point` comes nearer to the wall at `wall` than the gap. Rings never cross, so ends suffice. */
function pointWithin(xy: Float64Array, point: number, wall: number, gap: number): boolean {
  const dx = xy[wall + 2] - xy[wall];
  const dy = xy[wall + 3] - xy[wall + 1];
  const px = xy[point] - xy[wall];
  const py = xy[point + 1] - xy[wall + 1];
  const length2 = dx * dx + dy * dy;
  const t = length2 > 0 ? Math.max(0, Math.min(1, (px * dx + py * dy) / length2)) : 0;
  const fx = px - t * dx;
  const fy = py - t * dy;
  return fx * fx + fy * fy < gap * gap;
}

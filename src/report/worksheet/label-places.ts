import { boxAround, boxesNear, boxWithin } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';

/** What is drawn already, so that ids do not land on it. Paper mm. */
export interface Taken {
  /** Arrows and ids: never written over. */
  readonly ink: Box[];
  /** Openings: written over when there is no other place. */
  readonly grey: Box[];
}

/** How far from its arrow an id may stand, mm. */
const REACH_MM = 14;
const STEP_MM = 0.7;

/**
 * The nearest free place for a text of this size around an anchor, inside a frame; the centre of the text.
 * Straight to the sides first, then in ever wider squares. Where nothing is free it lies within an opening, and only where
 * that fails too across the edge of one: an edge may be what is to be measured.
 */
export function placeLabel(anchor: Point, size: { width: number; height: number }, frame: Box, taken: Taken): Point {
  const reach = boxAround(anchor, size.width + 2 * REACH_MM + 1, size.height + 2 * REACH_MM + 1);
  const ink = taken.ink.filter((other) => boxesNear(reach, other));
  const grey = taken.grey.filter((other) => boxesNear(reach, other));
  let onGrey: Point | undefined;
  let onEdge: Point | undefined;
  for (let ring = 0; ring * STEP_MM <= REACH_MM; ring += 1) {
    for (const [dx, dy] of ringOffsets(ring)) {
      const centre: Point = [anchor[0] + dx * STEP_MM, anchor[1] + dy * STEP_MM];
      const box = boxAround(centre, size.width, size.height);
      if (!boxWithin(box, frame) || ink.some((other) => boxesNear(box, other, 0.15))) continue;
      const under = grey.filter((other) => boxesNear(box, other, 0.1));
      if (under.length === 0) return centre;
      if (under.every((other) => boxWithin(box, other))) onGrey ??= centre;
      else onEdge ??= centre;
    }
    // A place on grey nearby reads better than a free one far off.
    if (onGrey && ring * STEP_MM > REACH_MM / 2) return onGrey;
  }
  return onGrey ?? onEdge ?? anchor;
}

const rings: Point[][] = [[[0, 0]]];

/** Cells of a square ring around the origin, those on the axes first. */
function ringOffsets(ring: number): Point[] {
  if (rings[ring]) return rings[ring];
  const cells: Point[] = [];
  for (let i = -ring; i <= ring; i += 1) {
    cells.push([i, ring], [i, -ring]);
    if (Math.abs(i) < ring) cells.push([ring, i], [-ring, i]);
  }
  rings[ring] = cells.sort(
    (p, q) => Math.min(Math.abs(p[0]), Math.abs(p[1])) - Math.min(Math.abs(q[0]), Math.abs(q[1])),
  );
  return rings[ring];
}

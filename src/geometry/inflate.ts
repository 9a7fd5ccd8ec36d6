import {
  Clipper,
  ClipperOffset,
  ClipType,
  EndType,
  FillRule,
  type JoinType,
  type Path64,
  type Paths64,
} from 'clipper2-ts';
import { payForClip, payForMove } from './clip-work.js';
import { isConvex } from './convex.js';
import { erodeByEdges } from './erode-by-edges.js';
import { largest, smallest } from './extremes.js';
import { nearRings } from './near-rings.js';
import type { PerAxis, Point } from './types.js';

/** How walls are moved. Lengths are grid steps. */
export interface Inflation {
  /** Outwards when above zero. */
  readonly delta: number;
  readonly join: JoinType;
  readonly miterLimit: number;
  /** Largest distance between an arc and the polygon that stands for it; 0 where there are none. */
  readonly arcTolerance: number;
  /** How far from where it was a corner may come to lie, in multiples of delta. */
  readonly reach: number;
}

/** With more rings than this in one group, their union is made piece by piece. */
const MANY_RINGS = 64;
/** Slack for the rounding of corners to the grid. */
const ROUNDING = 4;

/**
 * Moves the walls of one connected region. Rings that can't meet are moved one by one: a sweep over all at once looks
 * at every wall on its way across. When the region grows no two rings ever meet; when it shrinks, its islands grow
 * together only where they stand near.
 *
 * @param rings - the outer ring, counter-clockwise, and the islands, clockwise
 * @returns rings that do not cross, outer ones counter-clockwise
 */
export function inflate(rings: readonly Path64[], how: Inflation): Paths64 {
  const islands = rings.slice(1);
  if (islands.length === 0 || !islands.every((ring) => Clipper.area(ring) < 0)) return moved(rings, how.delta, how);
  // Alone, an island passes for an opening that runs the other way round: what grows the region shrinks it.
  if (how.delta > 0) {
    const many = islands.length > MANY_RINGS;
    return [
      ...moved(rings.slice(0, 1), how.delta, how),
      ...islands.flatMap(
        (ring) => (many ? shrunkConvex(ring, how.delta) : undefined) ?? moved([ring], -how.delta, how),
      ),
    ];
  }
  return nearRings(rings, -2 * how.delta * how.reach + ROUNDING).flatMap((group) => {
    const members = group.map((i) => rings[i]);
    if (group[0] > 0) {
      return members.length > MANY_RINGS ? grown(members, how).map(reversed) : moved(members, -how.delta, how);
    }
    if (members.length <= MANY_RINGS) return moved(members, how.delta, how);
    const film = grown(members.slice(1), how);
    const outer = moved(members.slice(0, 1), how.delta, how);
    payForClip([...outer, ...film]);
    return Clipper.booleanOp(ClipType.Difference, outer, film, FillRule.NonZero);
  });
}

function moved(rings: readonly Path64[], delta: number, how: Inflation): Paths64 {
  const { join, miterLimit, arcTolerance, delta: regionDelta } = how;
  const steps = arcTolerance > 0 ? Math.PI / Math.acos(1 - Math.min(1, arcTolerance / Math.abs(delta))) : 2;
  payForMove(rings, regionDelta, steps);
  const offset = new ClipperOffset(miterLimit, arcTolerance);
  offset.addPaths([...rings], join, EndType.Polygon);
  const found: Paths64 = [];
  offset.execute(delta, found);
  return found;
}

/** A convex island drawn in edge by edge, which takes no sweep; undefined where it takes more than that. */
function shrunkConvex(island: Path64, delta: number): Paths64 | undefined {
  const ring = island.toReversed().map(({ x, y }): Point => [x, y]);
  const left = isConvex(ring) ? erodeByEdges(ring, 2 * delta, 2 * delta) : undefined;
  return left && [left.map(([x, y]) => ({ x: Math.round(x), y: Math.round(y) })).toReversed()];
}

/** Islands grown together, as rings that run counter-clockwise: by halves of the area, so that each sweep is short. */
function grown(islands: readonly Path64[], how: Inflation): Paths64 {
  if (islands.length <= MANY_RINGS) return moved(islands, -how.delta, how).map(reversed);
  const middles = islands.map(middleOf);
  const spread = (axis: 'x' | 'y'): number =>
    largest(middles.map((at) => at[axis])) - smallest(middles.map((at) => at[axis]));
  const axis = spread('x') > spread('y') ? 'x' : 'y';
  const order = islands.map((_, i) => i).sort((p, q) => middles[p][axis] - middles[q][axis]);
  const half = order.length >> 1;
  const [first, second] = [order.slice(0, half), order.slice(half)].map((part) =>
    grown(
      part.map((i) => islands[i]),
      how,
    ),
  );
  payForClip([...first, ...second]);
  return Clipper.booleanOp(ClipType.Union, first, second, FillRule.NonZero);
}

function middleOf(ring: Path64): PerAxis {
  const { left, right, top, bottom } = Clipper.getBounds(ring);
  return { x: (left + right) / 2, y: (top + bottom) / 2 };
}

const reversed = (ring: Path64): Path64 => ring.toReversed();

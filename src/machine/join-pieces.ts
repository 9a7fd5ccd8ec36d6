import { rotation } from '../geometry/affine.js';
import { ringArea } from '../geometry/area.js';
import { unionRegions } from '../geometry/boolean.js';
import { orientedBox } from '../geometry/oriented-box.js';
import type { Point, Region } from '../geometry/types.js';
import { insideRegion, type Nearest, nearestBetween, nearestOnWalls, wallsOf } from '../geometry/walls.js';
import { kerfAlong } from './machine-model.js';
import { type LineWidth, lineAlong, stroke, type ThinLine } from './thin-line.js';
import type { MachineModel } from './types.js';

/** Where a straight line stands on what comes back, it is led on into what is told. */
export function footings(
  { ends, pieces }: ThinLine,
  commanded: readonly Region[],
  comesBack: readonly Region[],
  line: LineWidth,
): Region[] {
  return ends.flatMap((end) => {
    if (!comesBack.some((one) => insideRegion(end, one))) return [];
    const [foot] = nearestOf(end, commanded);
    const [head] = nearestOf(foot, pieces);
    return [bridge(head, foot, line)];
  });
}

function nearestOf(point: Point, regions: readonly Region[]): [at: Point, distanceMm: number] {
  let best: [Point, number] = [point, Infinity];
  for (const region of regions) {
    const at = nearestOnWalls(point, wallsOf(region));
    const far = Math.hypot(at[0] - point[0], at[1] - point[1]);
    if (far < best[1]) best = [at, far];
  }
  return best;
}

/** More pieces than this are left as they are. */
const MANY_PIECES = 64;

/** One region of pieces that belong to one opening: those still apart are joined by the thinnest lines, nearest first. */
export function joined(pieces: readonly Region[], line: LineWidth): Region[] {
  if (pieces.length < 2) return [...pieces];
  const apart = unionRegions(pieces);
  if (apart.length < 2 || apart.length > MANY_PIECES) return apart;
  const bridges: Region[] = [];
  // Of each piece outside, where it comes nearest to those inside (Prim's least spanning tree).
  const outside = new Map<Region, Nearest | undefined>(apart.slice(1).map((one) => [one, undefined]));
  for (let newest = apart[0]; outside.size > 0; ) {
    let next: [Region, Nearest] | undefined;
    for (const [one, known] of outside) {
      const near = nearestBetween(wallsOf(newest), wallsOf(one), known?.distanceMm) ?? known;
      outside.set(one, near);
      if (near && near.distanceMm < (next?.[1].distanceMm ?? Infinity)) next = [one, near];
    }
    if (!next) break;
    const [one, { from, to }] = next;
    bridges.push(bridge(from, to, line));
    outside.delete(one);
    newest = one;
  }
  return unionRegions([...apart, ...bridges]);
}

/** A line one dot wide that overlaps what it joins by half a dot; a dot where they touch already. */
function bridge(p: Point, q: Point, line: LineWidth): Region {
  const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
  const u: Point = length > 1e-6 ? [(q[0] - p[0]) / length, (q[1] - p[1]) / length] : [1, 0];
  const more = lineAlong(line, u) / 2;
  return stroke([p[0] - more * u[0], p[1] - more * u[1]], [q[0] + more * u[0], q[1] + more * u[1]], line);
}

/** An opening may come out shorter on each side by this share of a dot: less than can be told apart. */
const SHORT_DOTS = 0.25;

/** An opening that fills less of its least rectangle has no two sides of its own: an L, a cross, a triangle. */
const OWN_SIDES_FILL = 0.7;

/**
 * Round ends and tips flatter than the beam are not reached by it, and the opening would come out short in the
 * direction of its own sides. A thin line brings the beam out to them.
 */
export function outToTheEnds(
  region: Region,
  commanded: readonly Region[],
  model: MachineModel,
  line: LineWidth,
): Region[] {
  const { angleDeg, widthMm, heightMm } = orientedBox(region.outer);
  if (ringArea(region.outer) < OWN_SIDES_FILL * widthMm * heightMm) return [];
  const { a, c } = rotation(angleDeg);
  const directions: readonly Point[] = [
    [a, c],
    [-c, a],
    [-a, -c],
    [c, -a],
  ];
  // Thinner than a dot, so that it makes nothing wider.
  const thin = { x: line.x / 4, y: line.y / 4 };
  return directions.flatMap((u) => {
    const dot = lineAlong(line, u);
    const reached = Math.max(...commanded.map(({ outer }) => farthest(outer, u))) + kerfAlong(model, u) / 2;
    const end = farthest(region.outer, u);
    if (end - reached <= SHORT_DOTS * dot) return [];
    const [x, y] = middleOfEnd(region.outer, u, end, kerfAlong(model, [-u[1], u[0]]) / 2);
    const [out, back] = [kerfAlong(model, u) / 2, kerfAlong(model, u) / 2 + end - reached + dot];
    return [stroke([x - back * u[0], y - back * u[1]], [x - out * u[0], y - out * u[1]], thin)];
  });
}

function farthest(ring: readonly Point[], [ux, uy]: Point): number {
  let most = -Infinity;
  for (const [x, y] of ring) most = Math.max(most, ux * x + uy * y);
  return most;
}

/** Corners within this of the end belong to it, mm. */
const SAME_END_MM = 1e-3;

/** The middle of an end, or as near to it as the beam stays within the opening's width. */
function middleOfEnd(ring: readonly Point[], [ux, uy]: Point, end: number, room: number): Point {
  const sideways = ([x, y]: Point): number => ux * y - uy * x;
  const there = ring.filter(([x, y]) => ux * x + uy * y > end - SAME_END_MM).map(sideways);
  const all = ring.map(sideways);
  const middle = (Math.min(...there) + Math.max(...there)) / 2;
  const at = Math.min(Math.max(middle, Math.min(...all) + room), Math.max(...all) - room);
  return [ux * end - uy * at, uy * end + ux * at];
}

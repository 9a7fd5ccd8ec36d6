import { rotation } from '../geometry/affine.js';
import { openingArea, openingCentroid, ringArea } from '../geometry/area.js';
import { unionRegions } from '../geometry/boolean.js';
import { reachAlong } from '../geometry/bounds.js';
import { erodeByEdges } from '../geometry/convex.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { type LongSide, longSide, orientedBox } from '../geometry/oriented-box.js';
import { ellipse } from '../geometry/shapes.js';
import type { PerAxis, Point, Region, Ring } from '../geometry/types.js';
import { insideRing, type Nearest, nearestBetween, wallsOf } from '../geometry/walls.js';
import { kerfAlong } from './machine-model.js';
import type { MachineModel } from './types.js';

/** One dot of the machine on the film, mm across X and across Y: the thinnest line. */
export type LineWidth = PerAxis;

/** A part that is narrower than the kerf, kept as the thinnest line, and what that line will come out as. */
export interface ThinLine {
  readonly pieces: readonly Region[];
  readonly at: Point;
  /** As the part lies: the side nearer to X first. */
  readonly askedMm: readonly [width: number, height: number];
  readonly comesOutMm: readonly [width: number, height: number];
}

type Box = LongSide & { readonly centre: Point };

/** Share of its least rectangle that a part must fill to be drawn as one straight line. A disc fills 0.785. */
const STRAIGHT_FILL = 0.6;

/** A part whose least rectangle is no wider than this many kerfs is a line or a tip, however little it fills it. */
const TIP_WIDTH = 1.3;

/** Share of a bent part's area that must survive the smaller kerf at which its centre line is taken. */
const BENT_KEEP = 0.85;

/** How far a dot reaches along a unit direction. */
const lineAlong = (line: LineWidth, u: Point): number => Math.hypot(line.x * u[0], line.y * u[1]);

/**
 * The thinnest thing that stands for a part which the kerf swallows.
 *
 * @param part - the lost part, film mm
 */
export function thinLine(part: Region, model: MachineModel, line: LineWidth): ThinLine {
  const around = orientedBox(part.outer);
  const box: Box = { centre: around.centre, ...longSide(around) };
  const across: Point = [-box.along[1], box.along[0]];
  const full = openingArea(part) > STRAIGHT_FILL * box.lengthMm * box.widthMm;
  const straight = part.islands.length === 0 && (full || box.widthMm <= TIP_WIDTH * kerfAlong(model, across));
  const course = straight ? (full ? boxEnds(box) : tipEnds(part)) : [];
  const wide = full ? box.widthMm - kerfAlong(model, across) : 0;
  const pieces = straight ? [straightLine(course, wide, model, line)] : bentLine(part, box, model);
  const corners = pieces.flatMap(({ outer }) => outer);
  const comesOut = (u: Point): number => {
    const [least, most] = reachAlong(corners, u);
    return most - least + kerfAlong(model, u);
  };
  const lies = Math.abs(box.along[0]) > Math.abs(box.along[1]);
  const asLies = (width: number, length: number): [number, number] => (lies ? [length, width] : [width, length]);
  return {
    pieces,
    at: box.centre,
    askedMm: asLies(box.widthMm, box.lengthMm),
    comesOutMm: asLies(comesOut(across), comesOut(box.along)),
  };
}

function boxEnds({ centre: [x, y], along: [ux, uy], lengthMm }: Box): [Point, Point] {
  const half = lengthMm / 2;
  return [
    [x - half * ux, y - half * uy],
    [x + half * ux, y + half * uy],
  ];
}

/** From the tip through the centre of area to the far side. */
function tipEnds(part: Region): [Point, Point] {
  const [cx, cy] = openingCentroid(part);
  const far = (p: Point): number => Math.hypot(p[0] - cx, p[1] - cy);
  const tip = part.outer.reduce((best, p) => (far(p) > far(best) ? p : best));
  const [ux, uy] = [(cx - tip[0]) / far(tip), (cy - tip[1]) / far(tip)];
  const reach = Math.max(...part.outer.map((p) => (p[0] - cx) * ux + (p[1] - cy) * uy));
  return [tip, [cx + reach * ux, cy + reach * uy]];
}

/** From end to end, less half a kerf at each; never shorter or narrower than a dot. */
function straightLine([from, to]: readonly Point[], widthMm: number, model: MachineModel, line: LineWidth): Region {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const u: Point = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
  const half = Math.max(length - kerfAlong(model, u), lineAlong(line, u)) / 2;
  const [x, y] = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  return stroke([x - half * u[0], y - half * u[1]], [x + half * u[0], y + half * u[1]], line, widthMm);
}

/** A line one dot wide, or wider. */
function stroke(from: Point, to: Point, line: LineWidth, widthMm = 0): Region {
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const v: Point = [(from[1] - to[1]) / length, (to[0] - from[0]) / length];
  const half = Math.max(lineAlong(line, v), widthMm) / 2;
  const [dx, dy] = [half * v[0], half * v[1]];
  return {
    outer: [
      [from[0] - dx, from[1] - dy],
      [to[0] - dx, to[1] - dy],
      [to[0] + dx, to[1] + dy],
      [from[0] + dx, from[1] + dy],
    ],
    islands: [],
  };
}

/** From one share of the kerf to the next that is tried. */
const FALLING = 0.9;
/** Arcs of areas that are only compared, mm. */
const COARSE_ARC_MM = 5e-4;

/** Rings, hooks and the like: shrink by the largest part of the kerf that still leaves the whole course standing. */
function bentLine(part: Region, box: Box, { kerfXMm, kerfYMm }: MachineModel): readonly Region[] {
  const areaOf = (regions: readonly Region[]): number => regions.reduce((sum, piece) => sum + openingArea(piece), 0);
  const whole = openingArea(part);
  for (let share = 0.95; share > 0.02; share *= FALLING) {
    const [x, y] = [share * kerfXMm, share * kerfYMm];
    // Nothing is left of a part that is narrower or smaller than the beam.
    if (Math.min(x, y) > box.widthMm || (Math.PI / 4) * x * y > whole) continue;
    const pieces = erode(part, x, y);
    const back = pieces.flatMap((piece) => offsetByEllipse(piece, x, y, 1, COARSE_ARC_MM));
    if (areaOf(back) >= BENT_KEEP * whole) return pieces;
  }
  return [part];
}

/**
 * T ⊖ E: where the beam may be told to go so that nothing outside T is burnt. Empty when T is narrower than the kerf.
 */
export function erode(region: Region, kerfXMm: number, kerfYMm: number): Region[] {
  const { outer, islands } = region;
  const smaller = islands.length === 0 ? erodeByEdges(outer, kerfXMm, kerfYMm) : undefined;
  return smaller ? [{ outer: smaller, islands: [] }] : offsetByEllipse(region, kerfXMm, kerfYMm, -1);
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
  const { kerfXMm, kerfYMm } = model;
  const told = commanded.flatMap(({ outer }) => outer);
  // Thinner than a dot, so that it makes nothing wider.
  const thin = { x: line.x / 4, y: line.y / 4 };
  return directions.flatMap((u) => {
    const dot = lineAlong(line, u);
    const reached = reachAlong(told, u)[1] + kerfAlong(model, u) / 2;
    const [, end] = reachAlong(region.outer, u);
    if (end - reached <= SHORT_DOTS * dot) return [];
    const [x, y] = middleOfEnd(region.outer, u, end);
    const [out, back] = [kerfAlong(model, u) / 2, kerfAlong(model, u) / 2 + end - reached + dot];
    // What the beam burns at a sharp corner or in a notch was not asked for.
    const beam = ellipse(x - out * u[0], y - out * u[1], (kerfXMm - line.x) / 2, (kerfYMm - line.y) / 2);
    if (!beam.every((point) => insideRing(point, region.outer))) return [];
    return [stroke([x - back * u[0], y - back * u[1]], [x - out * u[0], y - out * u[1]], thin)];
  });
}

/** Corners within this of the end belong to it, mm. */
const SAME_END_MM = 1e-3;

function middleOfEnd(ring: Ring, u: Point, end: number): Point {
  const v: Point = [-u[1], u[0]];
  const there = ring.filter(([x, y]) => u[0] * x + u[1] * y > end - SAME_END_MM);
  const [first, last] = reachAlong(there, v);
  const at = (first + last) / 2;
  return [u[0] * end + v[0] * at, u[1] * end + v[1] * at];
}

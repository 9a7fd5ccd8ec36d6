import { ringArea } from '../../geometry/area.js';
import { arcPoints, rectangle, solid } from '../../geometry/shapes.js';
import type { Point, Region, Ring } from '../../geometry/types.js';
import { roundLine } from '../gerber/standard-shape.js';
import type { Polyline } from './subpath.js';
import { unite } from './unite.js';

/** How a line is drawn; the terms of SVG and PDF. */
export interface Pen {
  /** mm, > 0 */
  readonly widthMm: number;
  readonly cap: 'butt' | 'round' | 'square';
  readonly join: 'miter' | 'round' | 'bevel';
  readonly miterLimit: number;
  /** Lengths of dashes and gaps in turn, mm; empty for an unbroken line. */
  readonly dashMm: readonly number[];
  readonly dashOffsetMm: number;
}

/** A dash pattern finer than this many dashes on one line is drawn as an unbroken line. */
const MAX_DASHES = 20_000;
/** Places along a line nearer than this are one: a leg between them would have any direction. */
const SAME_MM = 1e-9;
/** Slits and crumbs of rounding on the clipper's grid of 1 nm, mm². */
const CRUMB_MM2 = 1e-7;

type Vector = readonly [number, number];

interface Leg {
  readonly from: Point;
  readonly to: Point;
  /** Unit vector along, and half a width to the left. */
  readonly along: Vector;
  readonly left: Vector;
}

/**
 * What a pen leaves along a line: a rectangle for each straight leg, a wedge on the outer side of each corner, caps.
 * The pieces share corners to the last digit, so that their union has no seams.
 */
export function strokePolyline(line: Polyline, pen: Pen): Region[] {
  const lines = pen.dashMm.length > 0 ? dashes(line, pen) : [line];
  const simple = lines.length === 1 ? plainLine(lines[0], pen) : undefined;
  if (simple) return simple;
  const pieces = lines.flatMap((part) => plainLine(part, pen) ?? strokePieces(part, pen).map(solid));
  if (pieces.length <= 1) return pieces;
  return unite(pieces).flatMap((region) => {
    if (Math.abs(ringArea(region.outer)) < CRUMB_MM2) return [];
    return [{ ...region, islands: region.islands.filter((ring) => Math.abs(ringArea(ring)) >= CRUMB_MM2) }];
  });
}

/** Lines of one leg, and dots, need no union. */
function plainLine({ points, closed }: Polyline, pen: Pen): Region[] | undefined {
  const half = pen.widthMm / 2;
  if (points.length === 1) {
    const [[x, y]] = points;
    if (pen.cap === 'round') return roundLine(points[0], points[0], pen.widthMm);
    // Without a direction a square cap lies along the axes.
    return pen.cap === 'square' ? [solid(rectangle(x - half, y - half, x + half, y + half))] : [];
  }
  if (points.length > 2 || closed) return undefined;
  if (pen.cap === 'round') return roundLine(points[0], points[1], pen.widthMm);
  const [leg] = legsOf(points, false, half);
  const reach = pen.cap === 'square' ? half : 0;
  const [dx, dy] = [leg.along[0] * reach, leg.along[1] * reach];
  const [p, q]: Point[] = [
    [leg.from[0] - dx, leg.from[1] - dy],
    [leg.to[0] + dx, leg.to[1] + dy],
  ];
  return [solid([minus(p, leg.left), minus(q, leg.left), plus(q, leg.left), plus(p, leg.left)])];
}

const plus = (p: Point, v: Vector): Point => [p[0] + v[0], p[1] + v[1]];
const minus = (p: Point, v: Vector): Point => [p[0] - v[0], p[1] - v[1]];

function legsOf(points: readonly Point[], closed: boolean, half: number): Leg[] {
  const legs: Leg[] = [];
  const count = closed ? points.length : points.length - 1;
  for (let i = 0; i < count; i += 1) {
    const from = points[i];
    const to = points[(i + 1) % points.length];
    const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
    const along: Vector = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    legs.push({ from, to, along, left: [-along[1] * half, along[0] * half] });
  }
  return legs;
}

function strokePieces({ points, smooth, closed }: Polyline, pen: Pen): Ring[] {
  const half = pen.widthMm / 2;
  const loop = closed && points.length > 1;
  const legs = legsOf(points, loop, half);
  const pieces = legs.map(
    ({ from, to, left }): Ring => [
      minus(from, left),
      minus(to, left),
      // The ends of the centre line are corners too: the wedges start there.
      to,
      plus(to, left),
      plus(from, left),
      from,
    ],
  );
  legs.forEach((leg, i) => {
    const next = loop ? legs[(i + 1) % legs.length] : legs[i + 1];
    if (next) pieces.push(...wedge(leg, next, smooth[(i + 1) % points.length], pen));
  });
  if (!loop) {
    const first = legs[0];
    const last = legs[legs.length - 1];
    pieces.push(...cap(first.from, [-first.along[0], -first.along[1]], pen), ...cap(last.to, last.along, pen));
  }
  return pieces;
}

/** The corner between two legs, on the side away from the turn. */
function wedge(leg: Leg, next: Leg, smooth: boolean, pen: Pen): Ring[] {
  const turn = leg.along[0] * next.along[1] - leg.along[1] * next.along[0];
  const cosTurn = leg.along[0] * next.along[0] + leg.along[1] * next.along[1];
  if (turn === 0 && cosTurn > 0) return [];
  const half = pen.widthMm / 2;
  const sign = turn > 0 ? -1 : 1;
  const a: Vector = [sign * leg.left[0], sign * leg.left[1]];
  const b: Vector = [sign * next.left[0], sign * next.left[1]];
  const ordered = (ring: Ring): Ring[] => [sign < 0 ? ring : ring.toReversed()];
  const round = pen.join === 'round' && !(smooth && cosTurn > 0.9);
  if (round) {
    const start = Math.atan2(a[1], a[0]);
    // Where the path turns straight back the sign of the angle is chance; the cap lies ahead.
    const sweep = turn === 0 ? -Math.PI : Math.atan2(turn, cosTurn);
    const arc = arcPoints({ cx: leg.to[0], cy: leg.to[1], startRadius: half, endRadius: half, start, sweep });
    return ordered([leg.to, plus(leg.to, a), ...arc.slice(1, -1), plus(leg.to, b)]);
  }
  // 1 / sin(half the inner angle), the ratio that the limit speaks of.
  const miterRatio = 1 / Math.sqrt(Math.max(1e-12, (1 + cosTurn) / 2));
  if ((smooth && cosTurn > 0.5) || (pen.join === 'miter' && miterRatio <= pen.miterLimit * (1 + 1e-9))) {
    const scale = 1 / (1 + cosTurn);
    const tip: Point = [leg.to[0] + (a[0] + b[0]) * scale, leg.to[1] + (a[1] + b[1]) * scale];
    return ordered([leg.to, plus(leg.to, a), tip, plus(leg.to, b)]);
  }
  return turn === 0 ? [] : ordered([leg.to, plus(leg.to, a), plus(leg.to, b)]);
}

/** What the cap adds beyond an end; `out` points away from the line. */
function cap(end: Point, out: Vector, pen: Pen): Ring[] {
  if (pen.cap === 'butt') return [];
  const half = pen.widthMm / 2;
  const left: Vector = [-out[1] * half, out[0] * half];
  if (pen.cap === 'square') {
    const reach: Vector = [out[0] * half, out[1] * half];
    return [[end, minus(end, left), plus(minus(end, left), reach), plus(plus(end, left), reach), plus(end, left)]];
  }
  const start = Math.atan2(-left[1], -left[0]);
  const arc = arcPoints({ cx: end[0], cy: end[1], startRadius: half, endRadius: half, start, sweep: Math.PI });
  return [[end, minus(end, left), ...arc.slice(1, -1), plus(end, left)]];
}

/** Cuts a line into dashes. */
function dashes(line: Polyline, pen: Pen): Polyline[] {
  const pattern = pen.dashMm.length % 2 === 1 ? [...pen.dashMm, ...pen.dashMm] : pen.dashMm;
  const period = pattern.reduce((sum, length) => sum + length, 0);
  const points = line.closed && line.points.length > 1 ? [...line.points, line.points[0]] : line.points;
  /** How far along the line each point lies. */
  const places: number[] = [];
  points.forEach((p, i) => {
    places.push(i === 0 ? 0 : places[i - 1] + Math.hypot(p[0] - points[i - 1][0], p[1] - points[i - 1][1]));
  });
  const total = places[places.length - 1];
  if (!(period > 0) || points.length < 2 || (total / period) * pattern.length > MAX_DASHES) return [line];
  // Places are asked for as they come along the line: the end of the leg on which the last one lay.
  let leg = 1;
  const pointAt = (place: number): Point => {
    while (places[leg] < place) leg += 1;
    const [p, q, share] = [points[leg - 1], points[leg], (place - places[leg - 1]) / (places[leg] - places[leg - 1])];
    return [p[0] + (q[0] - p[0]) * share, p[1] + (q[1] - p[1]) * share];
  };
  const parts: Polyline[] = [];
  let start = -(((pen.dashOffsetMm % period) + period) % period);
  for (let k = 0; start < total - SAME_MM; k = (k + 1) % pattern.length) {
    const [from, to] = [Math.max(0, start), Math.min(total, start + pattern[k])];
    if (k % 2 === 0 && (to > SAME_MM || start === 0)) {
      const first = pointAt(from);
      const within: number[] = [];
      for (let i = leg; places[i] < to - SAME_MM; i += 1) if (places[i] > from + SAME_MM) within.push(i);
      const ends = to > from ? [pointAt(to)] : [];
      parts.push({
        points: [first, ...within.map((i) => points[i]), ...ends],
        smooth: [false, ...within.map((i) => line.smooth[i]), ...ends.map(() => false)],
        closed: false,
      });
    }
    start += pattern[k];
  }
  const [first, last] = [parts[0], parts[parts.length - 1]];
  const isOn = parts.length > 1 && line.closed && samePoint(first.points[0], points[0]);
  if (!isOn || !samePoint(last.points[last.points.length - 1], points[0])) return parts;
  // The pattern is on at both ends of a closed line: one dash runs round its first corner.
  const joined = { ...first, points: [...last.points.slice(0, -1), ...first.points] };
  return [{ ...joined, smooth: [...last.smooth.slice(0, -1), ...first.smooth] }, ...parts.slice(1, -1)];
}

const samePoint = (p: Point, q: Point): boolean => p[0] === q[0] && p[1] === q[1];

import { mapPoint } from '../../geometry/affine.js';
import type { Affine, Point } from '../../geometry/types.js';

/** One piece of a path. */
export type Segment =
  | { readonly kind: 'line'; readonly to: Point }
  | { readonly kind: 'cubic'; readonly c1: Point; readonly c2: Point; readonly to: Point };

/** A path without a jump. */
export interface Subpath {
  readonly start: Point;
  readonly segments: readonly Segment[];
  /** Closed by a command; a path that merely ends where it began is not closed. */
  readonly closed: boolean;
}

function mapSegment(map: Affine, segment: Segment): Segment {
  const to = mapPoint(map, segment.to);
  return segment.kind === 'line'
    ? { kind: 'line', to }
    : { kind: 'cubic', c1: mapPoint(map, segment.c1), c2: mapPoint(map, segment.c2), to };
}

/** Maps a path; curves stay curves. */
export function mapSubpath(map: Affine, subpath: Subpath): Subpath {
  return {
    start: mapPoint(map, subpath.start),
    segments: subpath.segments.map((segment) => mapSegment(map, segment)),
    closed: subpath.closed,
  };
}

/** Points that tell how far a segment reaches. */
export const controlPoints = (segment: Segment): readonly Point[] =>
  segment.kind === 'line' ? [segment.to] : [segment.c1, segment.c2, segment.to];

/** A quadratic curve as the cubic that is the same curve. */
export function quadratic(from: Point, control: Point, to: Point): Segment {
  const toward = (end: Point): Point => [
    end[0] + (2 / 3) * (control[0] - end[0]),
    end[1] + (2 / 3) * (control[1] - end[1]),
  ];
  return { kind: 'cubic', c1: toward(from), c2: toward(to), to };
}

/** Gathers subpaths from drawing commands, as SVG path data and PDF content streams have them. */
export class PathBuilder {
  private readonly done: Subpath[] = [];
  private start: Point | undefined;
  private segments: Segment[] = [];
  /** The current point. */
  at: Point = [0, 0];

  get isEmpty(): boolean {
    return this.start === undefined && this.done.length === 0;
  }

  moveTo(to: Point): void {
    this.flush(false);
    this.start = to;
    this.at = to;
  }

  add(segment: Segment): void {
    this.start ??= this.at;
    this.segments.push(segment);
    this.at = segment.to;
  }

  lineTo(to: Point): void {
    this.add({ kind: 'line', to });
  }

  close(): void {
    if (!this.start) return;
    this.at = this.start;
    this.flush(true);
  }

  private flush(closed: boolean): void {
    if (this.start && (this.segments.length > 0 || closed)) {
      this.done.push({ start: this.start, segments: this.segments, closed });
    }
    this.start = undefined;
    this.segments = [];
  }

  finish(): Subpath[] {
    this.flush(false);
    return this.done;
  }
}

/** A path of straight lines. */
export interface Polyline {
  /** Without a repeated point at the end of a closed one. */
  readonly points: readonly Point[];
  /** Which points lie within a curve, so that a stroke runs round them without a corner. */
  readonly smooth: readonly boolean[];
  readonly closed: boolean;
}

/**
 * Largest distance between a curve and the polygon that stands for it, mm. The polygon has the curve's area, so that
 * only its corners and the middles of its sides are off by so much.
 */
export const CURVE_TOLERANCE_MM = 4e-4;

/** No curve gets more corners than this, however wild its control points are. */
const MAX_PIECES = 2048;

const cross = (p: Point, q: Point): number => p[0] * q[1] - p[1] * q[0];
const minus = (p: Point, q: Point): Point => [p[0] - q[0], p[1] - q[1]];

/**
 * Moves the inner points of a chord polygon square to it until it encloses the area that the curve encloses. Each piece
 * of curve hands the area between itself and its chord to the corners at its two ends.
 *
 * @param points - on the curve, both ends included
 * @param deficits - per piece: signed area between curve and chord
 */
function areaTrue(points: Point[], deficits: readonly number[], limit: number): void {
  const last = points.length - 1;
  const moved = points.map((p): Point => p);
  for (let i = 1; i < last; i += 1) {
    const before = deficits[i - 1] * (i === 1 ? 1 : 0.5);
    const after = deficits[i] * (i === last - 1 ? 1 : 0.5);
    const [ex, ey] = minus(points[i + 1], points[i - 1]);
    const length2 = ex * ex + ey * ey;
    if (length2 === 0) continue;
    const shift = (2 * (before + after)) / length2;
    if (Math.abs(shift) * Math.sqrt(length2) > limit) continue;
    moved[i] = [points[i][0] + shift * ey, points[i][1] - shift * ex];
  }
  for (let i = 1; i < last; i += 1) points[i] = moved[i];
}

function cubicPoints(
  from: Point,
  { c1, c2, to }: Extract<Segment, { kind: 'cubic' }>,
  toleranceMm: number,
): readonly Point[] {
  const bend = Math.max(
    Math.hypot(from[0] - 2 * c1[0] + c2[0], from[1] - 2 * c1[1] + c2[1]),
    Math.hypot(c1[0] - 2 * c2[0] + to[0], c1[1] - 2 * c2[1] + to[1]),
  );
  // Distance between curve and chord <= |B''| h² / 8, and |B''| <= 6 bend.
  const count = Math.min(MAX_PIECES, Math.ceil(Math.sqrt((0.75 * bend) / toleranceMm)));
  if (!(count > 1)) return [to];
  const at = (t: number): Point => {
    const s = 1 - t;
    const [w0, w1, w2, w3] = [s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t];
    return [w0 * from[0] + w1 * c1[0] + w2 * c2[0] + w3 * to[0], w0 * from[1] + w1 * c1[1] + w2 * c2[1] + w3 * to[1]];
  };
  // A third of the derivative: the way to the next control point of a piece, times the piece's share of t.
  const slope = (t: number): Point => {
    const s = 1 - t;
    const along = (k: 0 | 1): number =>
      s * s * (c1[k] - from[k]) + 2 * s * t * (c2[k] - c1[k]) + t * t * (to[k] - c2[k]);
    return [along(0), along(1)];
  };
  const points: Point[] = [from];
  const deficits: number[] = [];
  let tangent = slope(0);
  for (let i = 1; i <= count; i += 1) {
    const p = points[i - 1];
    const q = i === count ? to : at(i / count);
    const next = slope(i / count);
    const c = minus(q, p);
    const a: Point = [tangent[0] / count, tangent[1] / count];
    const b: Point = [c[0] - next[0] / count, c[1] - next[1] / count];
    // Half the integral of B x B' over a cubic that starts at the origin.
    deficits.push((3 / 20) * (cross(a, b) + cross(a, c) + 2 * cross(b, c)));
    points.push(q);
    tangent = next;
  }
  areaTrue(points, deficits, 4 * toleranceMm);
  return points.slice(1);
}

/**
 * Turns curves into straight lines that stay within a tolerance of them, enclose the same area, and keep the ends of
 * every segment to the last digit.
 *
 * @param subpath - mm
 * @param mostPoints - flattening stops somewhat beyond so many; the caller counts and refuses
 */
export function flatten(subpath: Subpath, toleranceMm = CURVE_TOLERANCE_MM, mostPoints = Infinity): Polyline {
  const points: Point[] = [subpath.start];
  const smooth: boolean[] = [false];
  for (const segment of subpath.segments) {
    if (points.length > mostPoints) break;
    const from = points[points.length - 1];
    const added = segment.kind === 'line' ? [segment.to] : cubicPoints(from, segment, toleranceMm);
    added.forEach((point, i) => {
      const before = points[points.length - 1];
      if (point[0] === before[0] && point[1] === before[1]) return;
      points.push(point);
      smooth.push(i < added.length - 1);
    });
  }
  const last = points[points.length - 1];
  if (subpath.closed && points.length > 1 && last[0] === points[0][0] && last[1] === points[0][1]) {
    points.pop();
    smooth.pop();
  }
  return { points, smooth, closed: subpath.closed };
}

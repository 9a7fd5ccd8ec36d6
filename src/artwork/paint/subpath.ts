import { mapPoint } from '../../geometry/affine.js';
import type { Affine, Point } from '../../geometry/types.js';

/** One piece of a path. Arcs are given by their centre and two conjugate half axes, which any affine map keeps exact. */
export type Segment =
  | { readonly kind: 'line'; readonly to: Point }
  | { readonly kind: 'cubic'; readonly c1: Point; readonly c2: Point; readonly to: Point }
  | {
      readonly kind: 'arc';
      readonly centre: Point;
      /** The arc is centre + u cos t + v sin t. */
      readonly u: Point;
      readonly v: Point;
      /** Radians. */
      readonly start: number;
      readonly sweep: number;
      readonly to: Point;
    };

/** A path without a jump. */
export interface Subpath {
  readonly start: Point;
  readonly segments: readonly Segment[];
  /** Closed by a command; a path that merely ends where it began is not closed. */
  readonly closed: boolean;
}

function mapVector(map: Affine, [x, y]: Point): Point {
  return [map.a * x + map.b * y, map.c * x + map.d * y];
}

function mapSegment(map: Affine, segment: Segment): Segment {
  const to = mapPoint(map, segment.to);
  switch (segment.kind) {
    case 'line':
      return { kind: 'line', to };
    case 'cubic':
      return { kind: 'cubic', c1: mapPoint(map, segment.c1), c2: mapPoint(map, segment.c2), to };
    case 'arc':
      return {
        ...segment,
        centre: mapPoint(map, segment.centre),
        u: mapVector(map, segment.u),
        v: mapVector(map, segment.v),
        to,
      };
  }
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
export function controlPoints(segment: Segment): readonly Point[] {
  switch (segment.kind) {
    case 'line':
      return [segment.to];
    case 'cubic':
      return [segment.c1, segment.c2, segment.to];
    case 'arc':
      return [segment.centre, segment.u, segment.v, segment.to];
  }
}

/** A whole ellipse as four quarter arcs, so that its extremes are corners of the polygon that stands for it. */
export function ellipsePath(cx: number, cy: number, rx: number, ry: number): Subpath {
  const quarter = Math.PI / 2;
  const ends: Point[] = [
    [cx, cy + ry],
    [cx - rx, cy],
    [cx, cy - ry],
    [cx + rx, cy],
  ];
  return {
    start: [cx + rx, cy],
    segments: ends.map((to, i) => ({
      kind: 'arc',
      centre: [cx, cy],
      u: [rx, 0],
      v: [0, ry],
      start: i * quarter,
      sweep: quarter,
      to,
    })),
    closed: true,
  };
}

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

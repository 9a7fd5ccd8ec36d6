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

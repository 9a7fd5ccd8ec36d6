import type { Point } from '../../geometry/types.js';

/** Where a mark of a coupon was commanded, and where it was seen on the film. */
export interface MarkPlace {
  readonly at: Point;
  /** In axes of the gauge's own: any shift and turn. mm. */
  readonly seen: Point;
  /** Standard uncertainty of the place along one axis, mm. */
  readonly uMm?: number;
}

/** The marks of one film, seen without moving it. */
export interface FilmPlaces {
  readonly coupon: string;
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
  readonly marks: readonly MarkPlace[];
}

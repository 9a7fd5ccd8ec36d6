import { ringBounds } from '../geometry/bounds.js';
import type { Box } from '../geometry/types.js';

/** Contract 1: what there is to read on a coupon. Positions in mm, as commanded after snapping to the pitch. */
export interface FeaturesFile {
  readonly format: 'apertrue-features';
  readonly version: 1;
  readonly coupon: string;
  readonly canvas: {
    readonly widthMm: number;
    readonly heightMm: number;
    readonly pitchXMm: number;
    readonly pitchYMm: number;
  };
  readonly features: readonly Feature[];
}

export type Feature = DimensionalFeature | CellFeature | VernierFeature;

/** A length to measure between two edges; nominalMm = |to - from| exactly, in a direction square to the edges. */
export interface DimensionalFeature {
  readonly id: string;
  readonly kind: 'span' | 'opening' | 'web';
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
  readonly nominalMm: number;
  /** Spans only: `near` (the default) goes from film to opening at both ends when walking from -> to; `far` the other way. */
  readonly side?: 'near' | 'far';
  /**
   * Openings and webs only: a long one, for the jaws of a caliper and not for the eye. An opening goes from the first edge of one window to
   * the last of another, where inside jaws press; a web is all the film between them, over which outside jaws close.
   */
  readonly by?: 'jaws';
  /** Openings only: what is not a slot (the default), so that machines that cut them differently can be found out. */
  readonly shape?: 'square' | 'circle';
  /** The sentence that a person reads at the bench. */
  readonly say: string;
}

/** Whether it is for a caliper's jaws, which take hold of it where no edge need be seen. */
export function isForJaws(feature: Feature): boolean {
  return 'by' in feature && feature.by === 'jaws';
}

/** From its first edge to its second, mm as commanded. */
export const vectorOf = ({ from, to }: Pick<DimensionalFeature, 'from' | 'to'>) => ({
  dx: to[0] - from[0],
  dy: to[1] - from[1],
});

/** The axis that a length lies along; undefined for slanted ones. */
export const axisAlong = ({ dx, dy }: { readonly dx: number; readonly dy: number }): 'x' | 'y' | undefined =>
  dy === 0 ? 'x' : dx === 0 ? 'y' : undefined;

/** The part of the coupon that a feature lies on, mm. */
export function featureBox(feature: Feature): Box {
  if (!('box' in feature)) return ringBounds([feature.from, feature.to]);
  const [minX, minY, maxX, maxY] = feature.box;
  return { minX, minY, maxX, maxY };
}

/** One cell of a power/speed grid. */
export interface CellFeature {
  readonly id: string;
  readonly kind: 'cell';
  readonly powerPercent: number;
  readonly speedMmS: number;
  /** x0, y0, x1, y1 in mm. */
  readonly box: readonly [number, number, number, number];
  readonly say: string;
}

/**
 * Two combs whose pitches differ by one part in n. The reading (reading_mm column) is the number of the line that
 * coincides, halves allowed; line k means a shift of (k - zeroLine) * stepMm along `axis`.
 */
export interface VernierFeature {
  readonly id: string;
  readonly kind: 'vernier';
  /** What a shift means: `kerf` (edges of the two combs face opposite ways) or `row-shift` (alternate rows displaced). */
  readonly measures: 'kerf' | 'row-shift';
  readonly axis: 'x' | 'y';
  readonly lines: number;
  readonly zeroLine: number;
  readonly stepMm: number;
  readonly box: readonly [number, number, number, number];
  readonly say: string;
}

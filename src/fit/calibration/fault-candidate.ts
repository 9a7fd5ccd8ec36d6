import type { DimensionalFeature } from '../../coupon/features.js';
import type { Term } from './design.js';
import type { Observation } from './observations.js';

/** One shape that a fault can have. */
export interface Candidate {
  readonly code: string;
  readonly name: string;
  readonly terms: readonly Term[];
  /** What it does to a stencil, by the sizes found. */
  say(sizes: readonly number[]): string;
  readonly hint: string;
  /** The gauge, where it is the gauge and not the machine that is off. */
  readonly gauge?: string;
  /** The kerf differs from opening to opening; places are right. */
  readonly ofKerf?: boolean;
  /** Of two axes that are mostly alike. */
  readonly ofOneAxis?: boolean;
  /** What anybody would want to know of: the size of the terms together, and that in words. */
  readonly named?: { readonly size: number; readonly words: string };
  /** How far off it makes places or widths of a stencil at most, mm, where that is not the largest of its sizes. */
  readonly offMm?: (sizes: readonly number[]) => number;
  /** How much scale and squareness differ from place to place because of it: by its sizes. */
  readonly differs?: (sizes: readonly number[]) => Differing;
}

/** Lowest and highest of what comes on top of scale X, scale Y and shear somewhere on the bed. */
export type Differing = readonly (readonly [low: number, high: number])[];

export const um = (mm: number): string => `${(1000 * Math.abs(mm)).toFixed(0)} µm`;

/** What is read, where its places are those of the bed. */
export function dimensional({ feature, kind, elsewhere }: Observation): DimensionalFeature | undefined {
  return 'from' in feature && kind !== 'vernier' && !elsewhere ? feature : undefined;
}

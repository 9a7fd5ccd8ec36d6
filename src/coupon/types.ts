import type { Warning } from '../errors.js';
import type { Opening } from '../geometry/types.js';
import type { FeaturesFile } from './features.js';

/** How to make a coupon. Lengths in mm. */
export interface CouponOptions {
  /** Size of the bed or of the film to use; the canvas is the largest whole number of dots in it. */
  readonly widthMm: number;
  readonly heightMm: number;
  /** Distance between two neighbouring dots, 0.01 to 0.2 mm; the same both ways when `pitchYMm` is not given. */
  readonly pitchXMm: number;
  readonly pitchYMm?: number;
  /** The widest kerf after which labels must still be legible; default 0.2. */
  readonly kerfAllowanceMm?: number;
  /** Over the pattern's own powers, percent. Power/speed grids only. */
  readonly powersPercent?: readonly number[];
  /** Over the pattern's own speeds, mm/s. Power/speed grids only. */
  readonly speedsMmS?: readonly number[];
  /** How the machine gets its power: set by hand for a whole job (default), or by the grey level of each pixel. */
  readonly powerBy?: 'knob' | 'grey';
  /** Ending of the image files that the jobs name; default `png`. */
  readonly imageEnding?: string;
}

/** The canvas as the machine is told, a whole number of dots. */
export interface CouponCanvas extends Readonly<FeaturesFile['canvas']> {
  readonly widthPx: number;
  readonly heightPx: number;
}

/** Openings that get one grey level, 0 black (full power) to 254. */
export interface GreyLevel {
  readonly grey: number;
  readonly powerPercent: number;
  readonly openings: readonly Opening[];
}

/** One image to burn. All images of a coupon share its canvas and are burnt without moving the film. */
export interface CouponImage {
  /** The coupon's name, followed by a step's name when there are several. */
  readonly name: string;
  readonly openings: readonly Opening[];
  /** The setting to burn this image with; undefined for the setting that is being calibrated. */
  readonly powerPercent?: number;
  readonly speedMmS?: number;
  /** Set when the machine takes power from grey levels; `openings` holds them all. */
  readonly greyLevels?: readonly GreyLevel[];
}

/** Where a text is cut, for the worksheet. */
export interface CouponLabel {
  readonly text: string;
  readonly box: readonly [x0: number, y0: number, x1: number, y1: number];
}

/** A coupon: what to burn and what to read on it afterwards. */
export interface Coupon {
  readonly name: string;
  readonly title: string;
  readonly canvas: CouponCanvas;
  /** Everything that is burnt, of all images together; mm, every corner on the pitch. */
  readonly openings: readonly Opening[];
  readonly features: FeaturesFile;
  readonly images: readonly CouponImage[];
  readonly labels: readonly CouponLabel[];
  /** What to do, in order, one sentence each. */
  readonly steps: readonly string[];
  /** Image and setting of each job in the order of burning; empty when there is one image only. */
  readonly jobs: readonly string[];
  /** Ending of the image files that the jobs name. */
  readonly imageEnding: string;
  readonly cautions: readonly string[];
  readonly warnings: readonly Warning[];
}

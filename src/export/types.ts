import type { Rounding } from '../dots/rounding.js';
import type { Warning } from '../errors.js';
import type { PerAxis } from '../geometry/types.js';
import type { ExportFormat } from './export-formats.js';

/** How to write openings. */
export interface WriteOptions {
  readonly format: ExportFormat;
  /** The canvas, lower left corner at the origin of the openings' coordinates unless `originMm` says otherwise. */
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
  /** Where the canvas's lower left corner lies in the openings' coordinates, mm; default [0, 0]. */
  readonly originMm?: readonly [number, number];
  /** Distance between two neighbouring dots across the machine's X and Y, mm. Raster formats need it. */
  readonly pitchMm?: PerAxis;
  /** Openings light on dark instead of dark on light. */
  readonly negative?: boolean;
  /** Mirror left to right, applied last but the rotation. */
  readonly mirror?: boolean;
  /** Turn counter-clockwise, applied last. */
  readonly rotateDeg?: 0 | 90 | 180 | 270;
  /** Grey level of an opening, 0 black to 255, for `grey-png`; default 0. One number, or one for each opening. */
  readonly grey?: number | readonly number[];
  /**
   * Along which of the machine's axes the beam sweeps; default `x`. With `y` the image is turned a further 90 degrees
   * counter-clockwise and the pitches change places, so that the image's rows are still the lines that are swept.
   */
  readonly scanDirection?: 'x' | 'y';
  /**
   * Burn only every n-th row and leave the rows between as film, for programs that insist on square dots; default 1.
   * Openings are rounded to the lines that are burnt.
   */
  readonly burnEveryNthRow?: number;
  /** `area-true` (default) picks per opening the pixels with the nearest area; `snapped` is for coupons already on the pitch. */
  readonly rounding?: 'area-true' | 'snapped';
  /**
   * Full widths by which the beam widens what it burns, across the machine's X and Y, mm as commanded. With it, slanted
   * and round walls are rounded so that what is burnt comes out right: stairs of dots are filled by the beam and would
   * come out up to half a dot too wide on each side. Not given or 0: the dots' own area is what counts.
   */
  readonly kerfMm?: PerAxis;
  /** Words that go into the file's own title field, if it has one. */
  readonly title?: string;
}

/** What was written. */
export interface Written {
  readonly bytes: Uint8Array;
  readonly widthPx?: number;
  readonly heightPx?: number;
  /** The canvas as written: a whole number of pixels for raster formats. */
  readonly widthMm: number;
  readonly heightMm: number;
  readonly warnings: readonly Warning[];
  /** Raster formats: how near the pixels came, over all openings. */
  readonly rounding?: Rounding;
}

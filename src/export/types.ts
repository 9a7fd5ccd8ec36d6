import type { Warning } from '../errors.js';

export type ExportFormat = 'png' | 'bmp' | 'tiff' | 'svg' | 'pdf' | 'dxf' | 'grey-png';

/** How to write openings. */
export interface WriteOptions {
  readonly format: ExportFormat;
  /** The canvas, lower left corner at the origin of the openings' coordinates unless `originMm` says otherwise. */
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
  /** Where the canvas's lower left corner lies in the openings' coordinates, mm; default [0, 0]. */
  readonly originMm?: readonly [number, number];
  /** Distance between two neighbouring dots, mm. Raster formats need it. */
  readonly pitchMm?: { readonly x: number; readonly y: number };
  /** Openings light on dark instead of dark on light. */
  readonly negative?: boolean;
  /** Mirror left to right, applied last but the rotation. */
  readonly mirror?: boolean;
  /** Turn counter-clockwise, applied last. */
  readonly rotateDeg?: 0 | 90 | 180 | 270;
  /** Grey level of an opening, 0 black to 255, for `grey-png`. */
  readonly grey?: number;
  /** `area-true` (default) picks per opening the pixels with the nearest area; `snapped` is for coupons already on the pitch. */
  readonly rounding?: 'area-true' | 'snapped';
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
  readonly rounding?: {
    readonly meanAbsAreaErrorPercent: number;
    readonly maxAbsAreaErrorPercent: number;
    readonly maxPositionErrorPx: number;
  };
}

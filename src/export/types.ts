import type { Rounding } from '../dots/rounding.js';
import { burntAbove } from '../dots/rows.js';
import type { Warning } from '../errors.js';
import { composeMaps, IDENTITY, rotation, scaling, translation } from '../geometry/affine.js';
import type { Affine, PerAxis, Size } from '../geometry/types.js';
import type { ExportFormat } from './export-formats.js';

/** How to write openings. */
export interface WriteOptions {
  readonly format: ExportFormat;
  /** The canvas, lower left corner at the origin of the openings' coordinates unless `originMm` says otherwise. */
  readonly canvas: Size;
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

/** Where the openings go on the canvas as written: a map to its millimetres, y up, origin at its lower left corner. */
export interface Placement {
  readonly map: Affine;
  readonly widthMm: number;
  readonly heightMm: number;
}

/** The canvas in dots, and the map from the openings' coordinates to (column, row), row down from the upper edge. */
export type PixelPlacement = ReturnType<typeof placeOnPixels>;

/** A canvas that is this much longer than a whole number of dots, in dots, is that number: rounding noise only. */
const WHOLE = 1e-6;

function quarterTurns(options: WriteOptions): number {
  return ((options.rotateDeg ?? 0) / 90 + (options.scanDirection === 'y' ? 1 : 0)) % 4;
}

function place(options: WriteOptions, width: number, height: number): Placement {
  const [x0, y0] = options.originMm ?? [0, 0];
  const turns = quarterTurns(options);
  const mirror = options.mirror ? composeMaps(translation(width, 0), scaling(-1, 1)) : IDENTITY;
  const back: readonly Affine[] = [IDENTITY, translation(height, 0), translation(width, height), translation(0, width)];
  const turn = composeMaps(back[turns], rotation(turns * 90));
  const map = composeMaps(turn, composeMaps(mirror, translation(-x0, -y0)));
  return turns % 2 === 1 ? { map, widthMm: height, heightMm: width } : { map, widthMm: width, heightMm: height };
}

/** The canvas at exactly the size that was asked for. */
export function placeExactly(options: WriteOptions): Placement {
  return place(options, options.canvas.widthMm, options.canvas.heightMm);
}

/**
 * The canvas in whole dots: what was asked for, filled up at the right and the upper edge to the next dot.
 * The caller has made sure that there is a pitch.
 */
export function placeOnPixels(options: WriteOptions) {
  const swap = options.scanDirection === 'y';
  const pitchMm = options.pitchMm ?? { x: 1, y: 1 };
  const pitch = swap ? { x: pitchMm.y, y: pitchMm.x } : pitchMm;
  const { kerfMm } = options;
  const kerf = kerfMm && swap ? { x: kerfMm.y, y: kerfMm.x } : kerfMm;
  const rowsPerLine = options.burnEveryNthRow ?? 1;
  const dot = { x: pitch.x, y: pitch.y * rowsPerLine };
  const { widthMm, heightMm } = options.canvas;
  const turned = quarterTurns(options) % 2 === 1;
  const whole = (mm: number, step: number): number => Math.max(1, Math.ceil(mm / step - WHOLE));
  const widthPx = whole(turned ? heightMm : widthMm, dot.x);
  const lines = whole(turned ? widthMm : heightMm, dot.y);
  const [across, up] = [widthPx * dot.x, lines * dot.y];
  const placement = turned ? place(options, up, across) : place(options, across, up);
  const { a, b, c, d, e, f } = placement.map;
  const toPixels: Affine = {
    a: a / dot.x,
    b: b / dot.x,
    c: -c / dot.y,
    d: -d / dot.y,
    e: e / dot.x,
    f: lines - f / dot.y + burntAbove(rowsPerLine),
  };
  return {
    ...placement,
    toPixels,
    widthPx,
    /** Rows that can be burnt; the image has `rowsPerLine` as many. */
    lines,
    rowsPerLine,
    /** Size of a dot on the image's own axes, mm; Y is the distance between two burnt lines. */
    dot,
    /** Distance between two columns and two rows of the image, mm. */
    pitch,
    /** What the beam adds, on the image's own axes, mm. */
    kerf,
  };
}

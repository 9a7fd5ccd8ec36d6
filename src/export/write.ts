import { rowsOf } from '../dots/bitmap.js';
import { burn, dotsOf, type Standing } from '../dots/rasterise.js';
import type { Rounding } from '../dots/rounding.js';
import type { PlacedStamp } from '../dots/stamp.js';
import type { Warning } from '../errors.js';
import { cleanOpenings, requireOpenings } from '../geometry/clean.js';
import type { Region } from '../geometry/types.js';
import { checkCanvasSize, checkInside, checkOptions } from './check.js';
import { isRaster } from './export-formats.js';
import {
  type PixelPlacement,
  type Placement,
  placeExactly,
  placeOnPixels,
  type WriteOptions,
  type Written,
} from './types.js';

/**
 * Writes openings as a file: dark openings on light film, true size. Same inputs, same bytes.
 *
 * @param openings - mm, y up
 * @param options - see {@link WriteOptions}
 * @returns the file's bytes, the canvas as written, and for dots how near they came to the polygons
 * @throws {InputError} BAD_VALUE, NOT_POSITIVE, NOT_FINITE, BAD_OPENING, BAD_ROTATION, BAD_GREY, BAD_ROW_STEP, CANVAS_TOO_LARGE, OUTSIDE_CANVAS
 * @example (await writeArtwork(openings, { format: 'png', canvas: { widthMm: 60, heightMm: 50 }, pitchMm: { x: 0.025, y: 0.025 } })).widthPx // 2400
 */
export async function writeArtwork(openings: readonly Region[], options: WriteOptions): Promise<Written> {
  requireOpenings(openings);
  checkOptions(options, openings.length);
  const raster = isRaster(options.format);
  const { openings: clean, warnings } = cleanOpenings(openings);
  const written = await (raster ? writeDots(layDots(clean, options), options) : writePaths(clean, options));
  return { ...written, warnings: [...warnings, ...written.warnings] };
}

const NEGATIVE_OUTLINES: Warning = {
  code: 'NEGATIVE_OUTLINES',
  message: 'a DXF holds outlines, which have no dark and light side; negative was left out.',
};

async function writePaths(openings: readonly Region[], options: WriteOptions): Promise<Written> {
  checkInside(openings, options, options.canvas);
  const placement = placeExactly(options);
  const { widthMm, heightMm } = placement;
  const looks = { negative: options.negative ?? false, title: options.title };
  const warnings: Warning[] = [];
  if (options.format === 'dxf' && options.negative) warnings.push(NEGATIVE_OUTLINES);
  const encode = async (): Promise<Uint8Array> => {
    if (options.format === 'dxf') return (await import('./formats/dxf.js')).writeDxf(openings, placement, looks);
    if (options.format === 'svg') return (await import('./formats/svg.js')).writeSvg(openings, placement, looks);
    return (await import('./formats/pdf.js')).writePdf(openings, placement, looks);
  };
  return { bytes: await encode(), widthMm, heightMm, warnings };
}

/** Openings as the dots of an image that is not written yet. */
export interface DotImage {
  readonly placement: PixelPlacement;
  /** The dots of each opening, in their order. */
  readonly placed: readonly PlacedStamp[];
  readonly rounding: Rounding;
}

/**
 * Chooses the dots of an image; which raster format it is written in later makes no difference to them.
 *
 * @param openings - mm, y up; islands run against their outer rings
 * @param standing - which openings, by position, give way where two would grow together
 * @throws {InputError} what {@link writeArtwork} throws for a raster format
 */
export function layDots(
  openings: readonly Region[],
  options: WriteOptions,
  standing?: (index: number) => Standing,
): DotImage {
  checkOptions(options, openings.length);
  const placement = placeOnPixels(options);
  const { widthPx, lines, rowsPerLine, dot, toPixels, kerf } = placement;
  checkCanvasSize(widthPx, lines * rowsPerLine, options);
  checkInside(openings, options, uprightCanvas(placement));
  const { rounding: how } = options;
  const { placed, rounding } = dotsOf(openings, {
    widthPx,
    heightPx: lines,
    toPixels,
    dot,
    kerfMm: kerf,
    rounding: how,
    standing,
  });
  return { placement, placed, rounding };
}

/** How dots are written: what changes nothing about which ones are burnt. */
export type DotLooks = Pick<WriteOptions, 'format' | 'negative' | 'title' | 'grey'>;

/** Writes an image whose dots are chosen. */
export async function writeDots({ placement, placed, rounding }: DotImage, options: DotLooks): Promise<Written> {
  const { widthPx, lines, rowsPerLine, pitch } = placement;
  const heightPx = lines * rowsPerLine;
  const looks = { pitch, negative: options.negative ?? false, title: options.title };
  const encode = async (): Promise<Uint8Array> => {
    if (options.format === 'grey-png') {
      const { writeGreyPng } = await import('./formats/grey-png.js');
      const { grey = 0 } = options;
      const levels = typeof grey === 'number' ? () => grey : (i: number) => grey[i];
      return writeGreyPng(placed, widthPx, lines, { ...looks, rowsPerLine, levels });
    }
    const rows = rowsOf(burn(placed, widthPx, lines), rowsPerLine);
    if (options.format === 'tiff') return (await import('./formats/tiff.js')).writeTiff(rows, looks);
    if (options.format === 'png') return (await import('./formats/png.js')).writePng(rows, looks);
    return (await import('./formats/bmp.js')).writeBmp(rows, looks);
  };
  return {
    bytes: await encode(),
    widthPx,
    heightPx,
    widthMm: widthPx * pitch.x,
    heightMm: heightPx * pitch.y,
    warnings: [],
    rounding,
  };
}

/** The canvas as the openings' coordinates see it, before it was turned. */
function uprightCanvas({ widthMm, heightMm, map }: Placement): { widthMm: number; heightMm: number } {
  return map.a === 0 ? { widthMm: heightMm, heightMm: widthMm } : { widthMm, heightMm };
}

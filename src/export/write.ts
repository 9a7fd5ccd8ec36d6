import { burn, dotsOf } from '../dots/rasterise.js';
import { rowsOf } from '../dots/rows.js';
import type { Warning } from '../errors.js';
import { cleanOpenings } from '../geometry/clean.js';
import type { Region } from '../geometry/types.js';
import { checkCanvasSize, checkInside, checkOptions } from './check.js';
import { type Placement, placeExactly, placeOnPixels } from './placement.js';
import type { ExportFormat, WriteOptions, Written } from './types.js';

const RASTER: ReadonlySet<ExportFormat> = new Set(['png', 'bmp', 'tiff', 'grey-png']);

/** Whether a format is made of dots and so needs a pitch. */
export const isRaster = (format: ExportFormat): boolean => RASTER.has(format);

/**
 * Writes openings as a file: dark openings on light film, true size. Same inputs, same bytes.
 *
 * @param openings - mm, y up
 * @param options - see {@link WriteOptions}
 * @returns the file's bytes, the canvas as written, and for dots how near they came to the polygons
 * @throws {InputError} NOT_POSITIVE, NOT_FINITE, BAD_OPENING, BAD_ROTATION, BAD_GREY, BAD_ROW_STEP, CANVAS_TOO_LARGE, OUTSIDE_CANVAS
 * @example
 * await writeArtwork(openings, { format: 'png', canvas: { widthMm: 50, heightMm: 40 }, pitchMm: { x: 0.0254, y: 0.0254 } })
 */
export async function writeArtwork(openings: readonly Region[], options: WriteOptions): Promise<Written> {
  const raster = isRaster(options.format);
  checkOptions(options, raster, openings.length);
  const { openings: clean, warnings } = cleanOpenings(openings);
  const written = await (raster ? writeDots(clean, options) : writePaths(clean, options));
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

async function writeDots(openings: readonly Region[], options: WriteOptions): Promise<Written> {
  const placement = placeOnPixels(options);
  const { widthPx, lines, rowsPerLine, pitch, dot, toPixels, kerf } = placement;
  const heightPx = lines * rowsPerLine;
  checkCanvasSize(widthPx, heightPx, options);
  checkInside(openings, options, uprightCanvas(placement));
  const dots = dotsOf(openings, { widthPx, heightPx: lines, toPixels, dot, kerfMm: kerf, rounding: options.rounding });
  const looks = { pitch, negative: options.negative ?? false, title: options.title };
  const encode = async (): Promise<Uint8Array> => {
    if (options.format === 'grey-png') {
      const { writeGreyPng } = await import('./formats/grey-png.js');
      const { grey = 0 } = options;
      const levels = typeof grey === 'number' ? () => grey : (i: number) => grey[i];
      return writeGreyPng(dots.placed, widthPx, lines, { ...looks, rowsPerLine, levels });
    }
    const rows = rowsOf(burn(dots.placed, widthPx, lines), rowsPerLine);
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
    rounding: dots.rounding,
  };
}

/** The canvas as the openings' coordinates see it, before it was turned. */
function uprightCanvas({ widthMm, heightMm, map }: Placement): { widthMm: number; heightMm: number } {
  return map.a === 0 ? { widthMm: heightMm, heightMm: widthMm } : { widthMm, heightMm };
}

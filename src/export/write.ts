import { dotsOf, type Standing } from '../dots/rasterise.js';
import type { Rounding } from '../dots/rounding.js';
import { rowsOf } from '../dots/rows.js';
import type { PlacedStamp } from '../dots/stamp.js';
import { InputError, type Warning } from '../errors.js';
import { regionBounds } from '../geometry/bounds.js';
import { cleanOpenings, requireOpenings } from '../geometry/clean.js';
import type { Box, PerAxis, Region } from '../geometry/types.js';
import {
  aboveZero,
  checkGiven,
  either,
  finite,
  listOf,
  needed,
  objectOf,
  oneOf,
  someText,
  type Want,
  wholeWithin,
  yesOrNo,
  zeroOrMore,
} from '../given.js';
import { present } from '../kept.js';
import { firstOf } from '../text.js';
import { EXPORT_FORMATS, isRaster } from './export-formats.js';
import { writeBmp } from './formats/bmp.js';
import { writeDxf } from './formats/dxf.js';
import { writePdf } from './formats/pdf.js';
import { writePng } from './formats/png.js';
import { writeSvg } from './formats/svg.js';
import { shortMm } from './formats/text-bytes.js';
import { writeTiff } from './formats/tiff.js';
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
 * @throws {InputError} BAD_VALUE, BAD_OPENING, CANVAS_TOO_LARGE, OUTSIDE_CANVAS
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
  const encode = { dxf: writeDxf, svg: writeSvg }[options.format as string] ?? writePdf;
  return { bytes: await encode(openings, placement, looks), widthMm, heightMm, warnings };
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
  const { format, title, grey = 0, negative = false } = options;
  const levels = typeof grey === 'number' ? () => grey : (i: number) => grey[i];
  const rows = rowsOf(placed, placement, negative, format === 'grey-png' ? levels : undefined);
  const encode = { tiff: writeTiff, bmp: writeBmp }[format as string] ?? writePng;
  const { width: widthPx, height: heightPx, pitch } = rows;
  return {
    bytes: await encode(rows, title),
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

/** 1.5 gigapixels are 190 MB packed and A0 at 1200 dpi; beyond that a slip in the pitch is far more likely. */
const MAX_PIXELS = 1.5e9;

/** Longest side in dots; image libraries keep coordinates in 32 bits and PNG allows 2^31 - 1. */
const MAX_SIDE_PX = 1e6;

/** An opening may reach beyond the canvas by this much: rounding noise of sums of millimetres. */
const OUTSIDE_SLACK_MM = 1e-6;

/** Checks everything but the openings, and says all that is wrong at once. */
export function checkOptions(options: WriteOptions, openingCount: number): void {
  const level = wholeWithin(0, 255);
  const pitch = objectOf({ x: aboveZero, y: aboveZero });
  const wants: { readonly [key in keyof WriteOptions]-?: Want } = {
    format: needed(oneOf(...EXPORT_FORMATS)),
    canvas: needed(objectOf({ widthMm: aboveZero, heightMm: aboveZero })),
    originMm: listOf(finite, 2, 2),
    pitchMm: isRaster(options?.format) ? needed(pitch) : pitch,
    negative: yesOrNo,
    mirror: yesOrNo,
    rotateDeg: oneOf(0, 90, 180, 270),
    grey: either(level, listOf(level, openingCount, openingCount)),
    scanDirection: oneOf('x', 'y'),
    burnEveryNthRow: wholeWithin(1, 1000),
    rounding: oneOf('area-true', 'snapped'),
    kerfMm: objectOf({ x: zeroOrMore, y: zeroOrMore }),
    title: someText,
  };
  checkGiven('options', options, wants);
}

/** Refuses a canvas that no program would open. */
function checkCanvasSize(widthPx: number, heightPx: number, options: WriteOptions): void {
  if (widthPx * heightPx <= MAX_PIXELS && widthPx <= MAX_SIDE_PX && heightPx <= MAX_SIDE_PX) return;
  const { widthMm, heightMm } = options.canvas;
  throw new InputError({
    code: 'CANVAS_TOO_LARGE',
    place: { key: 'canvas' },
    message: `${shortMm(widthMm)} x ${shortMm(heightMm)} mm at this pitch are ${widthPx} x ${heightPx} dots; at most ${MAX_PIXELS / 1e6} million dots and ${MAX_SIDE_PX} a side can be written.`,
    hint: 'Give a coarser pitch (1000 dpi is 0.0254 mm) or a smaller canvas, or write SVG, PDF or DXF instead.',
  });
}

/** Refuses openings that reach beyond the canvas, naming them and by how much. */
function checkInside(
  openings: readonly Region[],
  options: WriteOptions,
  canvas: { widthMm: number; heightMm: number },
): void {
  const [x0, y0] = options.originMm ?? [0, 0];
  const frame: Box = { minX: x0, minY: y0, maxX: x0 + canvas.widthMm, maxY: y0 + canvas.heightMm };
  const outside: { number: number; byMm: number }[] = [];
  openings.forEach((opening, i) => {
    const box = regionBounds(opening);
    const byMm = Math.max(frame.minX - box.minX, frame.minY - box.minY, box.maxX - frame.maxX, box.maxY - frame.maxY);
    if (byMm > OUTSIDE_SLACK_MM) outside.push({ number: i + 1, byMm });
  });
  if (outside.length === 0) return;
  const named = outside.map(({ number, byMm }) => `${number} (${byMm.toFixed(3)} mm)`);
  throw new InputError({
    code: 'OUTSIDE_CANVAS',
    place: { key: 'canvas' },
    message: `opening${outside.length > 1 ? 's' : ''} ${firstOf(named, 8)} reach${outside.length > 1 ? '' : 'es'} beyond the canvas of ${shortMm(canvas.widthMm)} x ${shortMm(canvas.heightMm)} mm.`,
    hint: 'Make the canvas larger, or move its origin so that every opening lies on it.',
  });
}

/** Above this the dots no longer stand for the openings, percent of an opening's area. */
const COARSE_AREA_PERCENT = 12;

/** Warns of dots that are too coarse for what was drawn with them. */
export function coarseDots(written: Written | undefined, pitchMm: PerAxis): Warning[] {
  const worst = written?.rounding?.maxAbsAreaErrorPercent ?? 0;
  return present(
    worst > COARSE_AREA_PERCENT && {
      code: 'COARSE_DOTS',
      message: `dots of ${Number(pitchMm.x.toFixed(4))} x ${Number(pitchMm.y.toFixed(4))} mm are too coarse for this artwork: an opening is off by ${worst.toFixed(0)} % of its area.`,
      hint: 'Give a finer --pitch-mm, the one that the coupons were cut with.',
    },
  );
}

import { InputError, type Problem } from '../errors.js';
import { regionBounds } from '../geometry/bounds.js';
import type { Box, Region } from '../geometry/types.js';
import { checkGiven, listOf, needed, objectOf, oneOf, someNumber, someText, type Want, yesOrNo } from '../given.js';
import { firstOf } from '../words.js';
import { EXPORT_FORMATS, isRaster } from './export-formats.js';
import { shortMm } from './formats/numbers.js';
import type { WriteOptions } from './types.js';

/** 1.5 gigapixels are 190 MB packed and A0 at 1200 dpi; beyond that a slip in the pitch is far more likely. */
const MAX_PIXELS = 1.5e9;

/** Longest side in dots; image libraries keep coordinates in 32 bits and PNG allows 2^31 - 1. */
const MAX_SIDE_PX = 1e6;

/** An opening may reach beyond the canvas by this much: rounding noise of sums of millimetres. */
const OUTSIDE_SLACK_MM = 1e-6;

/** What is one of several words, or no number at all; the numbers follow. */
const WRITE_OPTIONS: { readonly [key in keyof WriteOptions]?: Want } = {
  format: needed(oneOf(...EXPORT_FORMATS)),
  canvas: needed(objectOf({})),
  originMm: listOf(someNumber, 2),
  negative: yesOrNo,
  mirror: yesOrNo,
  scanDirection: oneOf('x', 'y'),
  rounding: oneOf('area-true', 'snapped'),
  title: someText,
};

/** Checks everything but the openings, and says all that is wrong at once. */
export function checkOptions(options: WriteOptions, openingCount: number): void {
  checkGiven('options', options, WRITE_OPTIONS);
  const problems: Problem[] = [];
  const positive = (key: string, value: unknown): void => {
    if (typeof value === 'number' && Number.isFinite(value) && value > 0) return;
    problems.push({
      code: 'NOT_POSITIVE',
      place: { key },
      message: `expected a length in mm > 0, found ${String(value)}.`,
      hint: key.startsWith('pitch')
        ? 'Give the distance between two dots, for example 0.0254 for 1000 dpi.'
        : undefined,
    });
  };
  positive('canvas.widthMm', options.canvas.widthMm);
  positive('canvas.heightMm', options.canvas.heightMm);
  for (const [i, value] of (options.originMm ?? []).entries()) {
    if (!Number.isFinite(value)) {
      problems.push({
        code: 'NOT_FINITE',
        place: { key: `originMm[${i}]` },
        message: `expected a number in mm, found ${value}.`,
      });
    }
  }
  if (![0, 90, 180, 270].includes(options.rotateDeg ?? 0)) {
    problems.push({
      code: 'BAD_ROTATION',
      place: { key: 'rotateDeg' },
      message: `expected 0, 90, 180 or 270, found ${String(options.rotateDeg)}.`,
    });
  }
  if (isRaster(options.format)) checkRaster(options, problems, positive);
  if (options.format === 'grey-png' && typeof options.grey === 'object' && options.grey.length !== openingCount) {
    problems.push({
      code: 'LENGTH_MISMATCH',
      place: { key: 'grey' },
      message: `expected one grey level for each of ${openingCount} openings, found ${options.grey.length}.`,
    });
  }
  if (problems.length > 0) throw new InputError(problems);
}

function checkRaster(
  options: WriteOptions,
  problems: Problem[],
  positive: (key: string, value: unknown) => void,
): void {
  positive('pitchMm.x', options.pitchMm?.x);
  positive('pitchMm.y', options.pitchMm?.y);
  for (const axis of ['x', 'y'] as const) {
    const kerf = options.kerfMm?.[axis] ?? 0;
    if (Number.isFinite(kerf) && kerf >= 0) continue;
    problems.push({
      code: 'BAD_KERF',
      place: { key: `kerfMm.${axis}` },
      message: `expected a width in mm >= 0, found ${kerf}.`,
    });
  }
  const every = options.burnEveryNthRow ?? 1;
  if (!Number.isInteger(every) || every < 1 || every > 1000) {
    problems.push({
      code: 'BAD_ROW_STEP',
      place: { key: 'burnEveryNthRow' },
      message: `expected a whole number from 1 to 1000, found ${every}.`,
    });
  }
  const greys = options.grey === undefined ? [] : typeof options.grey === 'number' ? [options.grey] : options.grey;
  greys.forEach((grey, i) => {
    if (Number.isInteger(grey) && grey >= 0 && grey <= 255) return;
    problems.push({
      code: 'BAD_GREY',
      place: { key: typeof options.grey === 'number' ? 'grey' : `grey[${i}]` },
      message: `expected a whole number from 0 (black) to 255, found ${grey}.`,
    });
  });
}

/** Refuses a canvas that no program would open. */
export function checkCanvasSize(widthPx: number, heightPx: number, options: WriteOptions): void {
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
export function checkInside(
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

import { InputError, type Warning } from '../../errors.js';
import { FARTHEST_MM } from '../../geometry/clean.js';
import type { PerAxis } from '../../geometry/types.js';
import { scaleFromDistance } from '../paint/known-distance.js';
import type { ReadOptions } from '../types.js';
import type { PixelSource } from './source.js';
import type { PixelOpening } from './trace/trace.js';

interface Claim {
  readonly pixelMm: PerAxis;
  readonly words: string;
}

/** Two sizes that differ by less say the same: rounding to whole dots per metre or inch. */
const SAME = 1e-3;
/** Coarser than this no paste layer can be drawn, and many programs write it without meaning it. */
const COARSE_DPI = 101;
/** Photoplotters of the finest kind have half of it. */
const FINEST_DPI = 50_800;
const COARSEST_DPI = 10;
/** Fax has dots twice, some engravers four times as long as wide. */
const MOST_UNEQUAL = 8;
/** What image libraries write when nobody stated a resolution: one pixel a millimetre. */
const PLACEHOLDER_PER_MM = 1;

/** Refuses, before any work is done, an image whose size nobody stated. */
export function requireSize(source: PixelSource, options: ReadOptions): void {
  const { name: file, dpi, widthMm, knownDistance } = options;
  for (const [key, value] of [
    ['dpi', dpi],
    ['widthMm', widthMm],
    ['knownDistance', knownDistance?.distanceMm],
  ] as const) {
    const list = value === undefined ? [] : typeof value === 'number' ? [value] : value;
    if (list.some((v) => !(Number.isFinite(v) && v > 0))) {
      throw new InputError({
        code: 'SIZE_INVALID',
        place: { file, key },
        message: `expected a number > 0 for ${key}, got ${list.join(', ')}.`,
      });
    }
  }
  if (dpi !== undefined || widthMm !== undefined || knownDistance !== undefined || stated(source)) return;
  const found = source.resolution ? 'it holds only the placeholder of 1 pixel a millimetre' : 'it states none';
  throw new InputError({
    code: 'SIZE_UNKNOWN',
    place: { file },
    message: `expected an image with a resolution; ${found}, so the true size of its ${source.width} x ${source.height} pixels is unknown.`,
    hint: 'Give --dpi (dots per inch), --width-mm (true width of the whole image) or --known-distance (between the centres of two openings, which `apertrue number` shows).',
  });
}

/**
 * Settles how large a pixel is: by what the user says before what the file says, and says so where they differ.
 *
 * @param openings - in pixels; needed for a known distance
 * @throws {InputError} KNOWN_DISTANCE, SIZE_IMPOSSIBLE
 */
export function pixelSize(
  source: PixelSource,
  openings: readonly PixelOpening[],
  options: ReadOptions,
  warnings: Warning[],
): PerAxis {
  const claims = [byDpi(options), byWidth(source, options), byDistance(source, openings, options), stated(source)];
  const [first, ...others] = claims.filter((claim) => claim !== undefined);
  for (const other of others) {
    if (same(first.pixelMm.x, other.pixelMm.x) && same(first.pixelMm.y, other.pixelMm.y)) continue;
    warnings.push({
      code: 'SIZE_DISAGREES',
      place: { file: options.name },
      message: `${first.words} gives ${inWords(first.pixelMm)}, ${other.words} gives ${inWords(other.pixelMm)}; the first was taken.`,
      hint: 'Check one width on the finished film.',
    });
  }
  refuseImpossible(source, first, options.name);
  const dpi = 25.4 / Math.max(first.pixelMm.x, first.pixelMm.y);
  if (dpi < COARSE_DPI) {
    warnings.push({
      code: 'RESOLUTION_COARSE',
      place: { file: options.name },
      message: `${first.words} gives ${inWords(first.pixelMm)}, which is coarse for a paste layer; the image is ${millimetres(source.width * first.pixelMm.x)} mm wide.`,
      hint: 'Many programs write 72 or 96 dpi without meaning it: give --dpi or --width-mm if the width is wrong.',
    });
  }
  return first.pixelMm;
}

function refuseImpossible({ width, height }: PixelSource, { pixelMm, words }: Claim, file: string | undefined): void {
  const { x, y } = pixelMm;
  const why = !(Math.min(x, y) >= 25.4 / FINEST_DPI && Math.max(x, y) <= 25.4 / COARSEST_DPI)
    ? `no picture of a paste layer has fewer than ${COARSEST_DPI} or more than ${FINEST_DPI} dots per inch`
    : Math.max(x / y, y / x) > MOST_UNEQUAL
      ? `no picture has dots ${Math.round(Math.max(x / y, y / x))} times as long as wide`
      : Math.max(x * width, y * height) > FARTHEST_MM
        ? `${width} x ${height} pixels of that size are more than ${FARTHEST_MM / 1000} metres`
        : undefined;
  if (why === undefined) return;
  throw new InputError({
    code: 'SIZE_IMPOSSIBLE',
    place: { file },
    message: `${words} gives ${inWords(pixelMm)}, which can't be: ${why}.`,
    hint: 'Give the true --dpi or --width-mm.',
  });
}

function stated({ resolution }: PixelSource): Claim | undefined {
  if (!resolution) return undefined;
  const { perMmX, perMmY, saidBy } = resolution;
  if (same(perMmX, PLACEHOLDER_PER_MM) && same(perMmY, PLACEHOLDER_PER_MM)) return undefined;
  return { pixelMm: { x: 1 / perMmX, y: 1 / perMmY }, words: `the file (${saidBy})` };
}

function byDpi({ dpi }: ReadOptions): Claim | undefined {
  if (dpi === undefined) return undefined;
  const [x, y] = typeof dpi === 'number' ? [dpi, dpi] : dpi;
  return { pixelMm: { x: 25.4 / x, y: 25.4 / y }, words: '--dpi' };
}

function byWidth(source: PixelSource, { widthMm }: ReadOptions): Claim | undefined {
  if (widthMm === undefined) return undefined;
  const x = widthMm / source.width;
  return { pixelMm: { x, y: x * tallness(source) }, words: '--width-mm' };
}

function byDistance(
  source: PixelSource,
  openings: readonly PixelOpening[],
  { knownDistance: known, name: file }: ReadOptions,
): Claim | undefined {
  if (known === undefined) return undefined;
  const tall = tallness(source);
  const x = scaleFromDistance(openings, known, file, tall);
  return { pixelMm: { x, y: x * tall }, words: '--known-distance' };
}

/** Height of a pixel over its width. */
function tallness({ resolution, pixelAspect }: PixelSource): number {
  return resolution ? resolution.perMmX / resolution.perMmY : (pixelAspect ?? 1);
}

const same = (a: number, b: number): boolean => Math.abs(a - b) <= SAME * Math.max(a, b);

function inWords({ x, y }: PerAxis): string {
  // What is next to nothing keeps two digits: told as 0 it would say nothing.
  const dpi = (mm: number): string => {
    const dots = 25.4 / mm;
    return String(Number(dots < 0.1 ? dots.toPrecision(2) : dots.toFixed(2)));
  };
  return same(x, y) ? `${dpi(x)} dpi` : `${dpi(x)} x ${dpi(y)} dpi`;
}

const millimetres = (mm: number): string => String(Number(mm.toFixed(2)));

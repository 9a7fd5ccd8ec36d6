import { InputError, type Warning } from '../../errors.js';
import { openingPerimeter } from '../../geometry/area.js';
import type { ReadOptions } from '../types.js';
import { findLevels, type LevelField, type Levels, levelTable, tileCounter } from './levels.js';
import type { PixelSource } from './source.js';
import {
  type CoverageMap,
  coverageBuilder,
  coverageShares,
  invertCoverage,
  mapLevels,
  TooGrey,
} from './trace/coverage-map.js';
import type { PixelOpening } from './trace/trace.js';

/** Share of grey blocks up to which an image is taken to have clean black and white. */
const CLEAN_SHARE = 0.12;

/** Levels that an encoder's rounding leaves beside the true ones. */
const ROUNDED = 4;
/** Levels nearer than this leave too few steps between them for edges to be placed well. */
export const FAINT = 64;
/** Levels nearer than this are one colour, unevenly rounded. */
const SAME_LEVEL = 6;

interface Read {
  readonly map: CoverageMap;
  /** Undefined for an image that is 1-bit by format. */
  readonly levels: Levels | undefined;
  /** How much grey there is, see {@link greySum}. */
  readonly grey: number;
  /** The map shows which parts can be seen through: over white there was next to nothing to be seen. */
  readonly byOpacity?: boolean;
  /** Levels from place to place, for a picture that is unevenly lit. */
  readonly field?: LevelField;
}

type Rows = Pick<PixelSource, 'width' | 'height' | 'isBits' | 'sendRows'>;

/**
 * Decodes an image into a map of how light each pixel is, over white. White or pale openings on a see-through ground
 * can't be seen there; they are read by what can't be seen through.
 *
 * @throws {InputError} NOTHING_DRAWN when all pixels are alike, IMAGE_DAMAGED, IMAGE_TOO_BUSY
 */
export async function readCoverage(source: PixelSource, file: string | undefined): Promise<Read> {
  const overWhite = await readRows(source, file).catch(nothingSeen);
  if (!(overWhite instanceof InputError) && !isFaint(overWhite)) return overWhite;
  if (source.opacity) {
    const opacity = await readRows(source.opacity, file).catch(nothingSeen);
    if (!(opacity instanceof InputError) && !isFaint(opacity)) return { ...opacity, byOpacity: true };
  }
  if (overWhite instanceof InputError) throw overWhite;
  const { levels } = overWhite;
  if (levels && levels.light - levels.dark < SAME_LEVEL) throw nothingDrawn('alike', file);
  return overWhite;
}

/** Hands on that nothing is drawn; other errors go on. */
function nothingSeen(error: unknown): InputError {
  if (error instanceof InputError && error.code === 'NOTHING_DRAWN') return error;
  throw error;
}

const isFaint = ({ levels }: Read): boolean => levels !== undefined && levels.light - levels.dark < FAINT;

/**
 * Decodes an image into a map of how light each pixel is. Most images are black and white with grey edges only, which
 * takes one pass; others are looked through once for their levels and once more.
 *
 * @throws {InputError} NOTHING_DRAWN when all pixels are alike, IMAGE_DAMAGED, IMAGE_TOO_BUSY
 */
async function readRows(source: Rows, file: string | undefined): Promise<Read> {
  const { width, height, isBits } = source;
  const builder = coverageBuilder(width, height, !isBits, CLEAN_SHARE);
  try {
    await source.sendRows(builder);
    if (isBits) return { map: builder.finish(), levels: undefined, grey: 0 };
  } catch (error) {
    if (!(error instanceof TooGrey)) throw error;
    return readTwice(source, file);
  }
  const levels = levelsOf(builder.counts, file);
  const isClean = levels.dark === 0 && levels.light === 255 && levels.noise === 0;
  // Rows that repeat take no more room, so that a picture may be grey all over and still fit.
  if (!isClean && astray(builder.counts, levels) > CLEAN_SHARE) return readTwice(source, file);
  const map = builder.finish();
  if (isClean) return { map, levels, grey: greySum(builder.counts) };
  const table = levelTable(levels);
  mapLevels(map, table);
  return { map, levels, grey: greySum(builder.counts, table) };
}

/** Share of pixels at neither level. */
function astray(counts: Float64Array, { dark, light }: Levels): number {
  let [all, off] = [0, 0];
  counts.forEach((n, v) => {
    all += n;
    if (Math.abs(v - dark) > ROUNDED && Math.abs(v - light) > ROUNDED) off += n;
  });
  return off / all;
}

async function readTwice(source: Rows, file: string | undefined): Promise<Read> {
  const { width, height } = source;
  const tiles = tileCounter(width, height);
  await source.sendRows(tiles);
  const levels = levelsOf(tiles.counts(), file);
  const table = levelTable(levels);
  const field = tiles.fieldAbout(levels);
  const builder = coverageBuilder(width, height, true);
  const mapped = new Uint8Array(Math.ceil(width / 32) * 32);
  let [last, y] = [new Uint8Array(0), 0];
  const add = (row: Uint8Array): void => {
    if (field) field.map(row, mapped, y);
    else for (let x = 0; x < width; x += 1) mapped[x] = table[row[x]];
    builder.addGreyRow(mapped);
    y += 1;
  };
  await source.sendRows({
    addGreyRow(row) {
      if (field) last = row.slice();
      add(row);
    },
    addBitRow: () => undefined,
    repeatRow() {
      if (field) add(last);
      else builder.repeatRow();
    },
  });
  return { map: builder.finish(), levels, grey: greySum(builder.counts), ...(field ? { field } : {}) };
}

function levelsOf(counts: Float64Array, file: string | undefined): Levels {
  const levels = findLevels(counts);
  if (!levels) throw nothingDrawn(counts[0] > 0 ? 'dark' : counts[255] > 0 ? 'light' : 'alike', file);
  return levels;
}

/**
 * How far edges are blurred, as the standard deviation of a Gaussian blur that would leave as much grey beside them.
 *
 * @param grey - what {@link greySum} says of the picture
 * @returns pixels; about 0.3 for edges that were drawn with clean smoothing, less for such without
 * @remarks The sum of c (1 - c) across an edge is 1/6 for a box of one pixel, and s/sqrt(pi) for a Gaussian of
 * standard deviation s: the integral of F (1 - F) over the normal distribution F. Noise counts as blur.
 */
export function edgeBlurPx(grey: number, openings: readonly PixelOpening[]): number {
  const edges = openings.reduce((sum, opening) => sum + openingPerimeter(opening), 0);
  return edges > 0 ? (grey / edges) * Math.sqrt(Math.PI) : 0;
}

/**
 * Sum of c (1 - c) over all pixels of a picture.
 *
 * @param counts - how many pixels have each level
 * @param coverage - what each level stands for, 0 to 255; not given: the levels themselves
 */
function greySum(counts: Float64Array, coverage?: Uint8Array): number {
  return counts.reduce((sum, count, level) => {
    const c = coverage ? coverage[level] : level;
    return sum + (count * c * (255 - c)) / 65_025;
  }, 0);
}

/** Share of the border's pixels that film must hold. */
const FILM_AT_BORDER = 0.6;

/**
 * Turns a map of light into a map of openings, in place. Without a word from the user the openings are the smaller part
 * that does not run along the border.
 *
 * @throws {InputError} NOTHING_DRAWN when all is film, POLARITY_UNCLEAR
 */
export function chooseOpenings(light: CoverageMap, options: ReadOptions, warnings: Warning[]): void {
  const { polarity = 'auto', name: file } = options;
  const { all, border } = coverageShares(light);
  if (all === 0 || all === 1) throw nothingDrawn(all === 0 ? 'dark' : 'light', file);
  const openings = polarity === 'auto' ? smallerPart(all, border, file) : polarity;
  if (openings === 'dark') invertCoverage(light);
  else if (polarity === 'auto') {
    warnings.push({
      code: 'POLARITY_INFERRED',
      place: { file },
      message: `the light parts are taken as openings: they are ${percent(all)} of the image, and its border is dark.`,
      hint: 'Say --polarity dark if the dark parts are the openings.',
    });
  }
}

export function nothingDrawn(level: 'dark' | 'light' | 'alike', file: string | undefined): InputError {
  const what = level === 'alike' ? 'alike' : level === 'dark' ? 'dark' : 'light';
  return new InputError({
    code: 'NOTHING_DRAWN',
    place: { file },
    message: `expected openings; all pixels of the image are ${what}.`,
    hint: 'Check that the right layer was exported.',
  });
}

/** Refuses to choose between two readings of an image. */
export function unclear(file: string | undefined, why: string): InputError {
  return new InputError({
    code: 'POLARITY_UNCLEAR',
    place: { file },
    message: `it is not clear whether the dark or the light parts are openings: ${why}.`,
    hint: 'Say --polarity dark or --polarity light.',
  });
}

function smallerPart(light: number, lightAtBorder: number, file: string | undefined): 'dark' | 'light' {
  if (light > 0.5 && lightAtBorder >= FILM_AT_BORDER) return 'dark';
  if (light < 0.5 && lightAtBorder <= 1 - FILM_AT_BORDER) return 'light';
  throw unclear(file, `${percent(light)} of the image and ${percent(lightAtBorder)} of its border are light`);
}

const percent = (share: number): string => `${Number((share * 100).toPrecision(3))} %`;

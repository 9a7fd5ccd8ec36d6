import { InputError, type Warning } from '../../errors.js';
import { openingPerimeter } from '../../geometry/area.js';
import type { ReadOptions } from '../types.js';
import { evenlyLit, findLevels, type LevelField, type Levels, levelTable } from './levels.js';
import type { PixelSource } from './source.js';
import { type CoverageMap, coverageShares } from './trace/coverage-map.js';
import type { PixelOpening } from './trace/trace.js';

/** Share of pixels neither black nor white up to which an image is drawn, not lit: those of its edges. */
const DRAWN_SHARE = 0.1;

/** Levels nearer than this leave too few steps between them for edges to be placed well. */
export const FAINT = 64;
/** Levels nearer than this are one colour, unevenly rounded. */
const SAME_LEVEL = 6;

interface Read {
  readonly map: CoverageMap;
  readonly levels: Levels;
  /** How much grey there is, see {@link greySum}. */
  readonly grey: number;
  /** The map shows which parts can be seen through: over white there was next to nothing to be seen. */
  readonly byOpacity?: boolean;
  /** Levels from place to place, for a picture that is unevenly lit. */
  readonly field?: LevelField;
}

/**
 * Decodes an image into a map of how light each pixel is, over white. White or pale openings on a see-through ground
 * can't be seen there; they are read by what can't be seen through.
 *
 * @throws {InputError} NOTHING_DRAWN when all pixels are alike, IMAGE_DAMAGED
 */
export async function readCoverage(source: PixelSource, file: string | undefined): Promise<Read> {
  const overWhite = await source.decode();
  const seen = levelled(overWhite);
  if (seen && !isFaint(seen)) return seen;
  const opacity = await source.decodeOpacity?.();
  opacity?.invert();
  const byOpacity = opacity && levelled(opacity);
  if (byOpacity && !isFaint(byOpacity)) return { ...byOpacity, byOpacity: true };
  if (seen && seen.levels.light - seen.levels.dark >= SAME_LEVEL) return seen;
  const level = overWhite.counts.findIndex((count) => count > 0);
  throw nothingDrawn(seen || level % 255 ? 'alike' : level === 0 ? 'dark' : 'light', file);
}

const isFaint = ({ levels }: Read): boolean => levels.light - levels.dark < FAINT;

/** A map of brightness as one of how light each pixel is between the picture's own levels; undefined when all are alike. */
function levelled(map: CoverageMap): Read | undefined {
  const counts = map.counts;
  const levels = findLevels(counts);
  if (!levels) return undefined;
  const isDrawn = 1 - (counts[0] + counts[255]) / (map.width * map.height) <= DRAWN_SHARE;
  const field = isDrawn ? undefined : evenlyLit(map, levels);
  const isClean = levels.dark === 0 && levels.light === 255 && levels.noise === 0;
  if (!field && !isClean) map.replace(levelTable(levels));
  return { map, levels, grey: greySum(map.counts), ...(field ? { field } : {}) };
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

/** Sum of c (1 - c) over all pixels of a picture, by how many have each level. */
const greySum = (counts: Float64Array): number =>
  counts.reduce((sum, count, c) => sum + (count * c * (255 - c)) / 65_025, 0);

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
  if (openings === 'dark') light.invert();
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

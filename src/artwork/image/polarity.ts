import { InputError, type Warning } from '../../errors.js';
import type { ReadOptions } from '../types.js';
import { type CoverageMap, coverageShares, invertCoverage } from './trace/coverage-map.js';

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

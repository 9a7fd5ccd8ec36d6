import type { ReadOptions } from '../../artwork/types.js';
import { EXPORT_FORMATS } from '../../export/export-formats.js';
import { choice, flag, insteadOf, option, required, type ValuesOf } from './option.js';
import * as parse from './values.js';

/** How to read artwork; for every command that takes it. */
export const ARTWORK = {
  dpi: option('<n>', 'resolution of artwork that is an image, dots per inch; X and Y as 600x1200', parse.dpi),
  widthMm: insteadOf(['dpi'], option('<mm>', 'true width of the whole image, drawing or page, mm', parse.positiveMm)),
  knownDistance: insteadOf(
    ['dpi', 'widthMm'],
    option('<a,b,mm>', 'size by the distance between the centres of two numbered openings', parse.knownDistance),
  ),
  polarity: choice('<which>', 'which part of an image is openings', ['auto', 'dark', 'light']),
  dropSpecksMm: option('<mm>', 'drop traced openings smaller than a square this wide', parse.positiveMm),
  page: option('<n>', 'page of a PDF, counting from 1', parse.wholeNumber),
  anyLayer: flag('read a layer although it says that it is no paste layer'),
};
export const ARTWORK_KINDS = 'Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG, PDF';

const SIDE_WORDS = 'side of the board that the artwork is for (default: what the file or its name says)';
/** For every command that lays a stencil or hands a layer on. */
export const SIDE = { side: choice('<which>', SIDE_WORDS, ['top', 'bottom']) };
export type ArtworkOptionValues = ValuesOf<typeof ARTWORK & typeof SIDE>;

/**
 * What the readers take of these values.
 *
 * @param jobFunction - what a job file in the same archive says of the file
 */
export function readOptionsOf(values: ArtworkOptionValues, name: string, jobFunction?: string): ReadOptions {
  const { dpi, widthMm, knownDistance, polarity, dropSpecksMm, page, anyLayer, side } = values;
  const size = { dpi: dpi && ([dpi.x, dpi.y] as const), widthMm, knownDistance };
  return { name, ...size, polarity, dropSpecksMm, page, acceptAnyLayer: anyLayer, side, jobFunction };
}

const DROP_WORDS = 'leave out these openings, by the numbers that check and number give: 1137,1200-1214';
export const DROP = { drop: option('<numbers>', DROP_WORDS, parse.openingNumbers) };

const MIRROR_WORDS = 'mirror left to right; auto: bottom layers (default: auto)';
export const MIRROR = { mirror: choice('<when>', MIRROR_WORDS, ['auto', 'yes', 'no']) };

/** How fine the dots of an image are. */
export const PITCH = {
  pitchMm: option('<mm>', 'dot pitch, mm; X and Y as 0.05x0.0254 (default: the profile’s)', parse.pitch),
};

const SWEEP_WORDS = 'axis along which the beam sweeps; y turns the image by 90 degrees (default: x)';
/** How the beam sweeps, and the rows between burnt ones. */
export const SWEEP = {
  sweep: choice('<axis>', SWEEP_WORDS, ['x', 'y']),
  burnEveryNthRow: option('<n>', 'burn every n-th row only and leave the rows between as film', parse.wholeNumber),
};

/** What a stencil is written as. */
export const formatOption = (words: string) => option('-f <list>', words, parse.formats(EXPORT_FORMATS));

/** Of a stencil for a machine: the machine, and where it goes. */
export const STENCIL = {
  profile: required(option('-p <file>', 'profile of the laser and the film')),
  out: required(option('-o <folder>', 'folder for the results')),
};

/** The film that openings are to print from. */
export const PRINTED_FROM = {
  profile: option('-p <file>', 'profile: film thickness, smallest opening and smallest web'),
  thicknessMm: option('-t <mm>', 'film thickness, mm (default: the profile’s)', parse.thicknessMm),
};

/** Rules that openings go through before they are corrected. */
export const RULES = {
  rules: option('-r <name or file>', 'treat the openings by a rule set first (see treat)'),
  thicknessMm: option('<mm>', 'film thickness for the rules (default: the profile’s)', parse.thicknessMm),
};

/** The film that coupons are cut from. */
export const FILM = {
  film: option('<kind>', 'what the film is made of, for example pet or polyimide'),
  thicknessMm: option('<mm>', 'thickness of the film, mm', parse.thicknessMm),
};

/** Whether a report is written. @param where - beside what */
export const reportOptions = (where: string) => ({
  report: flag(`write a report ${where}, as a page and as PDF`),
  noReport: flag('none, although apertrue.json asks for it'),
});

export const OVERWRITE = { overwrite: flag('replace files that exist already') };

/** @param what - is printed */
export const jsonOption = (what: string) => ({ json: flag(`print ${what} as JSON`) });

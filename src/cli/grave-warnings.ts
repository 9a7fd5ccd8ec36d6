import type { Warning } from '../errors.js';
import type { Profile } from '../machine/types.js';
import type { ArtworkOptionValues } from './artwork-options.js';

/** Codes of warnings that the exit code must tell of: the stencil may come out wrong as a whole. */
const GRAVE: ReadonlySet<string> = new Set([
  'NARROWER_THAN_KERF',
  'KERF_UNKNOWN',
  'COARSE_DOTS',
  'RESOLUTION_COARSE',
  'ALREADY_CORRECTED',
  'IS_COUPON',
  'DPI_NOT_USED',
  'END_MISSING',
  'IMAGE_DOUBTFUL',
  'SPECKS',
  'OPENINGS_AT_BORDER',
  'PICTURE_CUT_OFF',
  'PICTURE_BLANK',
  'UNKNOWN_COMMAND',
  'UNIT_ASSUMED',
  'FILE_NEGATIVE',
  'LAYER_DOUBTFUL',
  'SIDE_DISAGREES',
]);

/**
 * Whether the exit code must tell of a warning. A coarse resolution is grave where the file states it, since many
 * programs write 72 or 96 dpi without meaning it, and not where the user said it; so with a side that file and name disagree on.
 */
export function isGrave({ code }: Warning, { dpi, widthMm, knownDistance, side }: ArtworkOptionValues): boolean {
  const sizeIsSaid = dpi !== undefined || widthMm !== undefined || knownDistance !== undefined;
  const isSettled = (code === 'RESOLUTION_COARSE' && sizeIsSaid) || (code === 'SIDE_DISAGREES' && side !== undefined);
  return GRAVE.has(code) && !isSettled;
}

/** What a stencil made with a profile can't be: true to width, when nobody ever read the kerf. */
export function profileWarnings({ fit }: Profile): Warning[] {
  const unknown = [fit.kerfXMm, fit.kerfYMm].some(({ value, assumed }) => assumed === true && value === 0);
  if (!unknown) return [];
  return [
    {
      code: 'KERF_UNKNOWN',
      message: 'the kerf was never fitted and is taken as 0: openings will come out too wide by the whole kerf.',
      hint: 'Cut and read an aperture-ladder, and fit again.',
    },
  ];
}

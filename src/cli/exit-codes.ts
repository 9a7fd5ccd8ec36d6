import type { Warning } from '../errors.js';
import type { ArtworkOptionValues } from './options/shared.js';

/** The exit codes of every command; the README lists them. */
export const EXIT = {
  /** Done, nothing to worry about. */
  done: 0,
  /** A bug in apertrue; please report it with --debug. */
  bug: 1,
  /** The request or a file can't be worked with; nothing was written for it. */
  badInput: 2,
  /** Done and written, but something is not as asked, or nobody can vouch for it: openings, checks, readings. */
  findings: 3,
  /** A batch: some files failed, the others are done. */
  someFailed: 4,
} as const;

export type ExitCode = (typeof EXIT)[keyof typeof EXIT];

/**
 * Codes of warnings that the exit code must tell of: something that was asked for is not as asked, or nobody can vouch
 * for it. Advice (heat, and what was understood in one of two ways) is printed alone.
 */
const GRAVE: ReadonlySet<string> = new Set([
  'NARROWER_THAN_KERF',
  'NOT_AS_ASKED',
  'KERF_UNKNOWN',
  'NUMBERS_ASSUMED',
  'PROFILE_UNSURE',
  'FILM_FALLS_OUT',
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
  'MACRO_MOIRE',
  'DECIMAL_POINT',
  'DIGITS_TOO_MANY',
  'DEFINED_AGAIN',
  'OLD_COMMAND',
  'FORMAT_AGAIN',
  'UNIT_AGAIN',
  'UNIT_ASSUMED',
  'FILE_NEGATIVE',
  'MOSTLY_CLEARED',
  'AFTER_END',
  'LAYER_DOUBTFUL',
  'PASTE_UNREADABLE',
  'PASTE_SEVERAL',
  'FIRST_PICTURE',
  'SIDE_DISAGREES',
  'FIELD_OTHER_CANVAS',
  'FIELD_BEYOND',
  'BEYOND_BED',
  'BEYOND_CALIBRATED',
  'PITCH_NOT_CALIBRATED',
  'GREY_NOT_CALIBRATED',
  'BLURRED',
  'FEW_PIXELS',
  'OUTLINES_LEFT',
  'OPENING_WITHOUT_AREA',
  'PDF_OPERATOR',
  'PDF_UNBALANCED',
  'PDF_DAMAGED',
  'PDF_MISSING',
  'ANNOTATION_LEFT_OUT',
  'NOT_A_NUMBER',
  'PATH_DATA',
  'CLIP_IGNORED',
  'MASK_IGNORED',
  'APERTURE_UNDEFINED',
  'STYLE_LEFT_OUT',
  'STROKE_SCALED',
  'FILTER_IGNORED',
  'GRADIENT_FLAT',
  'PATTERN_FLAT',
  'REFERENCE_UNKNOWN',
  'REFERENCE_CIRCLE',
  'IMAGE_LEFT_OUT',
  'FOREIGN_LEFT_OUT',
  'FAINT_LEFT_OUT',
  'SIZE_DISAGREES',
  // Of a sheet and its board.
  'HOLE_ON_PASTE',
  'LEFT_OUT_FOR_PASTE',
  'LETTERING_ENLARGED',
  'OUTLINE_LEFT',
  'OUTSIDE_BOARD',
  'HOLE_OUTSIDE_BOARD',
  'NEGATIVE_OUTLINES',
]);

/**
 * Whether the exit code must tell of a warning. A coarse resolution is grave where the file states it, since many
 * programs write 72 or 96 dpi without meaning it, and not where the user said it; so with a side that file and name disagree on.
 */
export function isGrave(warning: Warning, values: ArtworkOptionValues = {}): boolean {
  const { code } = warning;
  const isSettled =
    (OF_SIZE.has(code) && !isOfUnsaidSize(warning, values)) || (code === 'SIDE_DISAGREES' && values.side !== undefined);
  return GRAVE.has(code) && !isSettled;
}

const OF_SIZE: ReadonlySet<string> = new Set(['RESOLUTION_COARSE', 'SIZE_DISAGREES']);

/** Whether a warning doubts the size of artwork that nobody stated. */
export const isOfUnsaidSize = ({ code }: Warning, { dpi, widthMm, knownDistance }: ArtworkOptionValues = {}): boolean =>
  OF_SIZE.has(code) && [dpi, widthMm, knownDistance].every((said) => said === undefined);

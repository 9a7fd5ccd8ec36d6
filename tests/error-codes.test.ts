import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

/** Codes that no test names yet. It only gets shorter. */
const OWED = `
  ALREADY_CORRECTED
  APERTURE_DEFINITION
  APERTURE_EMPTY
  APERTURE_NONE
  APERTURE_NUMBER
  ARC_RADII
  BAD_EXPRESSION
  BEYOND_THE_LAW
  BLOCK_STROKE
  CANVAS_TOO_SMALL
  COARSE_DOTS
  DOES_NOT_FIT
  DPI_NOT_USED
  ENTRY_UNREADABLE
  FAINT_COLOURS
  FEATURES_NOT_FOUND
  FEW_READINGS
  FILE_NEGATIVE
  FOREIGN_LEFT_OUT
  FORMAT_AGAIN
  FORMAT_UNREADABLE
  GAUGE_LIMIT_ASSUMED
  GAUGE_ZERO_OFF
  HAIRLINES
  IMAGE_ROTATION
  IMAGE_SCALE
  IMAGE_UNSUPPORTED
  IS_COUPON
  KERF_BELOW_ZERO
  KERF_UNKNOWN
  LETTERING_ENLARGED
  MACRO_MOIRE
  MACRO_NAME
  MACRO_PRIMITIVE
  MARGIN_TOO_SMALL
  NESTED_ARCHIVE
  NOTHING_TO_LAY
  NOT_AN_OUTLINE
  NOT_ARTWORK
  NOT_CONVERGED
  NOT_MADE_FOR_FORMAT
  NO_FILES
  NO_MAXIMUM
  NO_PASTE_LAYER
  NUMBERS_MISMATCH
  OPERATION_MISSING
  OPTION_WITHOUT_EFFECT
  OTHER_UNIT
  OUTLINE_TWICE
  OUTSIDE_FILM
  OUT_MISSING
  PASSES_DIFFER
  PDF_OPERATOR
  PITCH_UNKNOWN
  POINT_LEFT_OUT
  READINGS_CONTRADICT
  READINGS_KNOWN
  READING_IMPOSSIBLE
  READING_MISSING
  REGION_EMPTY
  RESOLUTION_COARSE
  ROUTED_ARC
  RULES_UNKNOWN
  RULE_WITHOUT_LIMIT
  SCALE_X_NOT_TOLD
  SCALE_Y_NOT_TOLD
  SD_NOT_POSITIVE
  SPECKS
  STEP_REPEAT
  STROKE_SCALED
  THICKNESS_UNKNOWN
  UNCERTAINTY_NOT_POSITIVE
  UNCERTAIN_WINDOW
  UNIT_AGAIN
  UNIT_UNKNOWN
  WEB_STAYS_THIN
  WOULD_REPLACE_INPUT
  WRONG_FILE
  ZERO_SET
`
  .trim()
  .split(/\s+/);

const root = fileURLToPath(new URL('../', import.meta.url));
const textsOf = (folder: string): string[] =>
  readdirSync(root + folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts') && name !== 'error-codes.test.ts')
    .map((name) => readFileSync(`${root}${folder}/${name}`, 'utf8'));

/** Codes of problems and warnings; what the system and the engine call their errors is not ours. */
function codesOf(text: string): string[] {
  const found = [...text.matchAll(/'([A-Z][A-Z0-9]*_[A-Z0-9_]+)'|code: '([A-Z][A-Z0-9_]+)'/g)];
  return found.map(([, plain, given]) => plain ?? given).filter((code) => !/^(?:ERR_|E[A-Z]+$)/.test(code));
}

it('every code of an error or a warning is named in a test', () => {
  const tests = new Set(textsOf('tests').flatMap((text) => text.match(/\b[A-Z][A-Z0-9_]+\b/g) ?? []));
  const codes = [...new Set(textsOf('src').flatMap(codesOf))];
  expect(codes.length).toBeGreaterThan(200);
  const untested = codes.filter((code) => !tests.has(code)).sort();
  expect(untested).toEqual(OWED.filter((code) => codes.includes(code)));
});

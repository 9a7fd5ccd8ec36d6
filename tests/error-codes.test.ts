import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

/** Codes that no test names yet. It only gets shorter. */
const OWED = `
  ALREADY_CORRECTED
  ANSWER_MISSING
  BAD_EXPRESSION
  BEYOND_CALIBRATED
  COARSE_DOTS
  COUPON_NOT_FOUND
  DPI_NOT_USED
  FEW_READINGS
  FILE_NEGATIVE
  FORMS_DIFFER
  GAUGE_LIMIT_ASSUMED
  GAUGE_ZERO_OFF
  IMAGE_UNSUPPORTED
  IS_COUPON
  KERF_BELOW_ZERO
  KERF_UNKNOWN
  LETTERING_ENLARGED
  NOT_AS_ASKED
  NOT_CONVERGED
  NOT_MADE_FOR_FORMAT
  NO_MAXIMUM
  NUMBERS_ASSUMED
  OPTION_WITHOUT_EFFECT
  OTHER_UNIT
  READINGS_CONTRADICT
  READINGS_KNOWN
  READING_MISSING
  RESOLUTION_COARSE
  RULE_WITHOUT_LIMIT
  SCALE_X_NOT_TOLD
  SHEAR_ASSUMED
  SHEET_NOT_PLAIN
  SPECKS
  UNCERTAIN_WINDOW
  WEB_STAYS_THIN
  WOULD_REPLACE_INPUT
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

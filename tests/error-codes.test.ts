import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';

/** Codes that no test expects yet. It only gets shorter. */
const OWED = ['FIELD_ALONE', 'FIELD_BEYOND', 'FIELD_CANVASES', 'FIELD_FEW_MARKS', 'FIELD_OTHER_CANVAS'];

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

/** What a test expects: texts and patterns, but neither comments nor the names of tests. */
function expectedIn(text: string): string[] {
  const code = text.replace(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, '');
  const nameless = code.replace(/\b(?:it|describe)(?:\.\w+)?\(\s*(?:'[^'\n]*'|`[^`]*`)/g, '');
  const literals = nameless.match(/'[^'\n]*'|"[^"\n]*"|`[^`]*`|\/[^/\n]+\//g) ?? [];
  return literals.flatMap((literal) => literal.match(/\b[A-Z][A-Z0-9_]+\b/g) ?? []);
}

it('every code of an error or a warning is expected in a test', () => {
  const tests = new Set(textsOf('tests').flatMap(expectedIn));
  const codes = [...new Set(textsOf('src').flatMap(codesOf))];
  expect(codes.length).toBeGreaterThan(200);
  const untested = codes.filter((code) => !tests.has(code)).sort();
  expect(untested).toEqual(OWED);
});

import { InputError, type Problem } from '../errors.js';
import { packageJson } from '../package-file.js';
import { parseJsonText, valuesOf } from './json-file.js';
import { didYouMean } from './nearest.js';
import { type JsonSchema, type Misfit, type Path, readInForm } from './of-form.js';
import { nameOfFormat, wrongFile } from './our-files.js';

/** Tells of a value that its schema lets pass, and that is wrong all the same. */
export type Refuse = (path: Path, message: string, params?: { readonly code?: string; readonly hint?: string }) => void;

/** Takes what the schema lets pass for what the file says; what it tells of is refused. */
export type Reader<T, R> = (value: T, refuse: Refuse) => R;

/**
 * Reads a file of a kind that has a schema in patterns/schemas. All problems are gathered and thrown together, each with
 * file, line and key; an unknown key is refused with the nearest known name.
 *
 * @param text - the file's text; a byte order mark is accepted
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, JSON_TOO_DEEP, REPEATED_KEY, UNKNOWN_KEY, BAD_VALUE, and what `reader` tells of
 */
export function parseShipped<T, R = T>(
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R> = (value) => value as unknown as R,
): R {
  const raw = parseJsonText(text, file);
  const { value, misfits } = readInForm(raw, packageJson<JsonSchema>(`patterns/schemas/${name}.schema.json`));
  refuseOtherFormat(misfits, raw, text, file);
  const told: Misfit[] = [];
  const refuse: Refuse = (path, message, params) => void told.push({ path, message, ...params });
  // What is known can be read beside keys that are not.
  const isReadable = misfits.every(({ code }) => code === 'UNKNOWN_KEY');
  const result = isReadable ? reader(value as T, refuse) : undefined;
  const wrong = [...misfits, ...outermost(told)];
  if (wrong.length > 0) throw refusal(wrong, raw, text, file);
  return result as R;
}

function refusal(misfits: readonly Misfit[], raw: unknown, text: string, file: string): InputError {
  const lines = new Map<string, number>();
  for (const { path, line } of valuesOf(text)) lines.set(path.join('.'), line);
  const problems = new Map<string, Problem>();
  for (const misfit of misfits) {
    const { path } = misfit;
    const key = path.join('.');
    const line = lines.get(key) ?? lines.get(path.slice(0, -1).join('.'));
    // Of a value one thing is told: others follow from it.
    if (problems.has(key)) continue;
    problems.set(key, { code: 'BAD_VALUE', place: { file, line, key: key || undefined }, ...worded(misfit, raw) });
  }
  return new InputError([...problems.values()]);
}

/** What is said of a value that is not as it should be; rules of ours may bring a code and a hint of their own. */
function worded(
  { path, message, code, hint, choices = [] }: Misfit,
  raw: unknown,
): Omit<Problem, 'place' | 'code'> & Partial<Problem> {
  const key = String(path.at(-1));
  if (code === 'UNKNOWN_KEY')
    return {
      code,
      message,
      hint: didYouMean(key, choices.map(String), `Known keys: ${choices.join(', ') || 'none'}.`),
    };
  if (code !== undefined) return { code, message, hint };
  const found = path.reduce<unknown>((value, key) => (value as Record<string, unknown> | undefined)?.[key], raw);
  if (path.join() === 'version' && Number(found) > Number(choices[0])) {
    return {
      code: 'BAD_VERSION',
      message: `this file was written by a newer version (${found}); this one knows version ${choices[0]}.`,
      hint: 'Update apertrue.',
    };
  }
  // A rule of ours says what was found in its own words.
  if (/\bfound\b/.test(message)) return { message };
  return {
    message: `${message}; found ${show(found)}.`,
    hint: typeof found === 'string' ? didYouMean(found, choices.map(String), undefined) : undefined,
  };
}

function show(value: unknown): string {
  const text = JSON.stringify(value) ?? 'nothing';
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

/** Without rules of ours that only say of a whole what is said of a part of it. */
function outermost(told: readonly Misfit[]): readonly Misfit[] {
  const paths = told.map(({ path }) => `${path.join('.')}.`);
  return told.filter((_, i) => !paths.some((other) => other.length > paths[i].length && other.startsWith(paths[i])));
}

/** A whole list of wrong keys would hide that it is another kind of file. */
function refuseOtherFormat(misfits: readonly Misfit[], raw: unknown, text: string, file: string): void {
  const wanted = misfits.find(({ path }) => path.join() === 'format')?.choices;
  const found = (raw as { format?: unknown } | null)?.format;
  if (!wanted || nameOfFormat(found) === undefined) return;
  const error = wrongFile(file, nameOfFormat(wanted[0]) ?? String(wanted[0]), text, 'BAD_VALUE');
  if (error) throw error;
}

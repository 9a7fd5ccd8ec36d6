import { fromJSONSchema, type z } from 'zod';
import { InputError, type Problem } from '../errors.js';
import { parseJsonText, valuesOf } from './json-file.js';
import { didYouMean } from './nearest.js';
import type { JsonSchema } from './of-form.js';
import { nameOfFormat, wrongFile } from './our-files.js';

function valueAt(root: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>((value, key) => (value as Record<PropertyKey, unknown> | undefined)?.[key], root);
}

function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value) ?? String(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

/** What zod says of an issue: of an unknown key all that its object knows, which no other word of an issue tells. */
const worded: z.core.$ZodErrorMap = ({ code, inst }) =>
  code === 'unrecognized_keys' ? Object.keys((inst as z.ZodObject | undefined)?.shape ?? {}).join() : undefined;

/** What is said of a value that its schema lets pass, and that is wrong all the same. */
export interface Context {
  addIssue(issue: {
    code: 'custom';
    path: (string | number)[];
    message: string;
    params?: Record<string, unknown>;
  }): void;
}

/** Takes what the schema lets pass for what the file says; what it tells of is refused. */
export type Reader<T, R> = (value: T, context: Context) => R;

/** The patterns of a schema, each with its words. */
function wordsIn(schema: object): Record<string, string> {
  const { pattern, errorMessage } = schema as JsonSchema;
  const inner = Object.values(schema).filter((value): value is object => typeof value === 'object' && value !== null);
  return Object.assign({}, ...inner.map(wordsIn), pattern && errorMessage ? { [`/${pattern}/`]: errorMessage } : {});
}

/**
 * Says what is wrong with a file that does not fit its schema. All problems are gathered and thrown together, each with file,
 * line and key; an unknown key is refused with the nearest known name.
 *
 * @param text - the file's text; a byte order mark is accepted
 * @param file - its name, for messages
 * @returns what the file says, should zod find nothing wrong with it
 * @throws {InputError} JSON_SYNTAX, JSON_TOO_DEEP, REPEATED_KEY, UNKNOWN_KEY, BAD_VALUE
 */
export function refuseMisfit<T, R>(schema: JsonSchema, text: string, file: string, reader: Reader<T, R>): R {
  const raw = parseJsonText(text, file);
  const patterns = wordsIn(schema);
  const form = fromJSONSchema(schema as Parameters<typeof fromJSONSchema>[0]);
  const whole = form.transform((value, context) => reader(value as T, context as unknown as Context));
  // A file is read once: a parser made to measure takes longer to make than to use.
  const result = whole.safeParse(raw, {
    jitless: true,
    error: (issue) => worded(issue) ?? (issue.code === 'invalid_format' ? patterns[`${issue.pattern}`] : undefined),
  });
  if (result.success) return result.data;
  refuseOtherFormat(result.error.issues, raw, text, file);
  const lines = new Map<string, number>();
  for (const { path, line } of valuesOf(text)) lines.set(path.join('.'), line);
  const problems: Problem[] = [];
  const add = (issue: z.core.$ZodIssue, base: readonly PropertyKey[]): void => {
    const path = [...base, ...issue.path];
    const dotted = path.map(String).join('.');
    if (issue.code === 'invalid_union' && issue.errors.length > 0) {
      for (const inner of closest(issue.errors)) add(inner, path);
    } else if (issue.code === 'unrecognized_keys') {
      const known = issue.message.split(',').filter(Boolean);
      for (const name of issue.keys) {
        const key = [dotted, name].filter(Boolean).join('.');
        problems.push({
          code: 'UNKNOWN_KEY',
          place: { file, line: lines.get(key), key },
          message: 'this key is not known here.',
          hint: didYouMean(name, known, `Known keys: ${known.join(', ') || 'none'}.`),
        });
      }
    } else if (!problems.some(({ place }) => place?.key === (dotted || undefined))) {
      // Of a value one thing is told: others follow from it.
      const line = lines.get(dotted) ?? lines.get(path.slice(0, -1).map(String).join('.'));
      problems.push({
        code: 'BAD_VALUE',
        place: { file, line, key: dotted || undefined },
        ...refusal(issue, valueAt(raw, path)),
      });
    }
  };
  for (const issue of outermost(result.error.issues)) add(issue, []);
  throw new InputError(problems);
}

const isOfKind = ({ code, path }: z.core.$ZodIssue): boolean => code === 'invalid_value' && path.join() === 'kind';

/** What is wrong with a value that may be one of several: with that of its own kind, else with the likest. */
function closest(all: readonly (readonly z.core.$ZodIssue[])[]): readonly z.core.$ZodIssue[] {
  const kinds = all.flatMap((issues) => issues.find(isOfKind) ?? []);
  if (kinds.length === all.length) return [{ ...kinds[0], values: kinds.flatMap(choicesOf) } as z.core.$ZodIssue];
  const own = all.filter((issues) => !issues.some((issue) => kinds.includes(issue)));
  return own.reduce((best, issues) => (issues.length < best.length ? issues : best));
}

/** What is said of a value that is not as it should be; rules of ours may bring a code and a hint of their own. */
function refusal(issue: z.core.$ZodIssue, found: unknown): { message: string; code?: string; hint?: string } {
  const { message } = issue;
  if (issue.code === 'custom' && issue.params) return { message, ...issue.params };
  if (issue.code === 'invalid_value' && issue.path.join() === 'version' && Number(found) > Number(issue.values[0])) {
    return {
      code: 'BAD_VERSION',
      message: `this file was written by a newer version (${found}); this one knows version ${String(issue.values[0])}.`,
      hint: 'Update apertrue.',
    };
  }
  // A rule of ours says what was found in its own words.
  if (/\bfound\b/.test(message)) return { message };
  return {
    message: `${expected(issue)}; found ${show(found)}.`,
    hint: typeof found === 'string' ? didYouMean(found, choicesOf(issue).map(String), undefined) : undefined,
  };
}

/** What a value should have been, in words. */
function expected(issue: z.core.$ZodIssue): string {
  if (issue.code === 'too_small' && issue.origin === 'number')
    return `expected a number ${issue.inclusive ? '>=' : '>'} ${issue.minimum}`;
  if (issue.code === 'too_big' && issue.origin === 'number')
    return `expected a number ${issue.inclusive ? '<=' : '<'} ${issue.maximum}`;
  const choices = choicesOf(issue);
  if (choices.length > 0) return `expected ${choices.map((value) => `"${value}"`).join(' or ')}`;
  const words = issue.message.replace(/^Invalid input: /, '').replace(/, received .*$/, '');
  return words[0].toLowerCase() + words.slice(1);
}

/** The values of which one was expected. */
function choicesOf(issue: z.core.$ZodIssue): readonly unknown[] {
  if (issue.code === 'invalid_value') return issue.values;
  return issue.code === 'invalid_union' && 'options' in issue ? (issue.options as readonly unknown[]) : [];
}

/** Without rules of ours that only say of a whole what is said of a part of it. */
function outermost(issues: readonly z.core.$ZodIssue[]): readonly z.core.$ZodIssue[] {
  const paths = issues.map(({ path }) => `${path.map(String).join('.')}.`);
  const hasParts = (i: number): boolean =>
    paths.some((other) => other.length > paths[i].length && other.startsWith(paths[i]));
  return issues.filter(({ code }, i) => code !== 'custom' || !hasParts(i));
}

/** A whole list of wrong keys would hide that it is another kind of file. */
function refuseOtherFormat(issues: readonly z.core.$ZodIssue[], raw: unknown, text: string, file: string): void {
  const wanted = issues.flatMap((issue) =>
    issue.code === 'invalid_value' && issue.path.length === 1 && issue.path[0] === 'format' ? issue.values : [],
  );
  const found = (raw as { format?: unknown } | null)?.format;
  if (wanted.length === 0 || nameOfFormat(found) === undefined) return;
  const error = wrongFile(file, nameOfFormat(wanted[0]) ?? String(wanted[0]), text, 'BAD_VALUE');
  if (error) throw error;
}

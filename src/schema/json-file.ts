import type { z } from 'zod';
import { InputError, type Problem } from '../errors.js';
import { givenText } from '../given.js';
import { nearestName } from './nearest.js';
import { nameOfFormat, wrongFile } from './our-files.js';

/** No file of this project holds lists in lists deeper than this. */
const DEEPEST = 200;

/** Refuses what would exhaust whatever walks through it. */
function refuseDeep(text: string, file: string): void {
  let depth = 0;
  let line = 1;
  for (const [token] of text.matchAll(/"(?:[^"\\]|\\[\s\S])*"|[[{\]}\n]/g)) {
    if (token === '\n') line += 1;
    else if (token === '[' || token === '{') depth += 1;
    else if (token === ']' || token === '}') depth -= 1;
    if (depth <= DEEPEST) continue;
    throw new InputError({
      code: 'JSON_TOO_DEEP',
      place: { file, line },
      message: `lists and objects lie in each other more than ${DEEPEST} deep.`,
      hint: 'Check that this is the right file.',
    });
  }
}

/**
 * Parses a JSON text; a byte order mark is accepted.
 *
 * @throws {InputError} JSON_SYNTAX, JSON_TOO_DEEP, REPEATED_KEY, all with the line
 */
export function parseJsonText(text: string, file: string): unknown {
  refuseDeep(givenText(text, file), file);
  const value = parsed(text, file);
  const twice = repeatedKey(text);
  if (!twice) return value;
  throw new InputError({
    code: 'REPEATED_KEY',
    place: { file, line: twice.line, key: twice.key },
    message: 'this key stands twice in the same object, so one of the two would be lost.',
    hint: 'Take the wrong one out.',
  });
}

function parsed(text: string, file: string): unknown {
  try {
    return JSON.parse(text.replace(/^\uFEFF/, ''));
  } catch (error) {
    if (!/^[\s\uFEFF]*[{[]/.test(text)) throw wrongFile(file, 'a JSON file', text) ?? noJson(text, file);
    const detail = error instanceof Error ? error.message : String(error);
    const position = /position (\d+)/.exec(detail)?.[1];
    const line = position === undefined ? undefined : text.slice(0, Number(position)).split('\n').length;
    throw new InputError({
      code: 'JSON_SYNTAX',
      place: { file, line },
      message: `this is not valid JSON (${detail}).`,
      hint: 'Look for a missing comma, quote or bracket just before this place.',
    });
  }
}

function noJson(text: string, file: string): InputError {
  const start = text.trim().split(/\r?\n/)[0].slice(0, 40);
  const found =
    text.trim() === ''
      ? 'it is empty'
      : /^[\x20-\x7e]+$/.test(start)
        ? `it begins with ${JSON.stringify(start)}`
        : 'it is no text';
  return new InputError({
    code: 'JSON_SYNTAX',
    place: { file },
    message: `this is not valid JSON: ${found}.`,
    hint: 'Check that this is the right file.',
  });
}

function valueAt(root: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>((value, key) => (value as Record<PropertyKey, unknown> | undefined)?.[key], root);
}

function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value) ?? String(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

/** The keys that an object schema knows at a path; empty when it can't be told. */
function knownKeys(schema: unknown, path: readonly PropertyKey[]): string[] {
  type Def = {
    type?: string;
    shape?: Record<string, unknown>;
    element?: unknown;
    innerType?: unknown;
    options?: unknown[];
    items?: unknown[];
    valueType?: unknown;
    in?: unknown;
  };
  const defOf = (s: unknown): Def | undefined => (s as { _zod?: { def: Def } } | undefined)?._zod?.def;
  const def = defOf(schema);
  if (!def) return [];
  if (def.innerType) return knownKeys(def.innerType, path);
  if (def.in) return knownKeys(def.in, path);
  if (def.options) return [...new Set(def.options.flatMap((option) => knownKeys(option, path)))];
  if (path.length === 0) return Object.keys(def.shape ?? {});
  const [first, ...rest] = path;
  return knownKeys(def.shape?.[String(first)] ?? def.items?.[Number(first)] ?? def.element ?? def.valueType, rest);
}

/**
 * Reads a JSON text against a schema. All problems are gathered and thrown together, each with file, line and key;
 * an unknown key is refused with the nearest known name.
 *
 * @param schema - a zod schema made of strict objects
 * @param text - the file's text; a byte order mark is accepted
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, JSON_TOO_DEEP, REPEATED_KEY, UNKNOWN_KEY, BAD_VALUE
 */
export function parseJsonFile<T>(schema: z.ZodType<T>, text: string, file: string): T {
  const raw = parseJsonText(text, file);
  // A file is read once: a parser made to measure takes longer to make than to use.
  const result = schema.safeParse(raw, { jitless: true });
  if (result.success) return result.data;
  refuseOtherFormat(result.error.issues, raw, text, file);
  const lines = linesByPath(text.replace(/^\uFEFF/, ''));
  const problems: Problem[] = [];
  const add = (issue: z.core.$ZodIssue, base: readonly PropertyKey[]): void => {
    const path = [...base, ...issue.path];
    const dotted = path.map(String).join('.');
    if (issue.code === 'invalid_union' && issue.errors.length > 0) {
      const fewest = issue.errors.reduce((best, errors) => (errors.length < best.length ? errors : best));
      for (const inner of fewest) add(inner, path);
      return;
    }
    if (issue.code === 'unrecognized_keys') {
      const known = knownKeys(schema, path);
      for (const key of issue.keys) {
        const nearest = nearestName(key, known);
        const full = dotted ? `${dotted}.${key}` : key;
        problems.push({
          code: 'UNKNOWN_KEY',
          place: { file, line: lines.get(full), key: full },
          message: 'this key is not known here.',
          hint: nearest ? `Did you mean "${nearest}"?` : `Known keys: ${known.join(', ') || 'none'}.`,
        });
      }
      return;
    }
    const found = valueAt(raw, path);
    problems.push({
      code: 'BAD_VALUE',
      place: {
        file,
        line: lines.get(dotted) ?? lines.get(path.slice(0, -1).map(String).join('.')),
        key: dotted || undefined,
      },
      // A rule of ours says what was found in its own words.
      message: /\bfound\b/.test(issue.message) ? issue.message : `${expected(issue)}; found ${show(found)}.`,
    });
  };
  for (const issue of outermost(result.error.issues)) add(issue, []);
  throw new InputError(problems);
}

/** What a value should have been, in words. */
function expected(issue: z.core.$ZodIssue): string {
  if (issue.code === 'too_small' && issue.origin === 'number')
    return `expected a number ${issue.inclusive ? '>=' : '>'} ${issue.minimum}`;
  if (issue.code === 'too_big' && issue.origin === 'number')
    return `expected a number ${issue.inclusive ? '<=' : '<'} ${issue.maximum}`;
  if (issue.code === 'invalid_value')
    return `expected ${issue.values.map((value) => `"${String(value)}"`).join(' or ')}`;
  const words = issue.message.replace(/^Invalid input: /, '').replace(/, received .*$/, '');
  return words[0].toLowerCase() + words.slice(1);
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

/** Line (from 1) on which each value of a JSON text starts, by its path: keys and indices joined with dots, '' for the root. */
export function linesByPath(text: string): Map<string, number> {
  const lines = new Map<string, number>();
  let at = 0;
  let line = 1;
  const skip = (): void => {
    while (at < text.length && /[\s,:]/.test(text[at])) {
      if (text[at] === '\n') line += 1;
      at += 1;
    }
  };
  const readString = (): string => {
    const start = at;
    at += 1;
    while (at < text.length && text[at] !== '"') at += text[at] === '\\' ? 2 : 1;
    at += 1;
    return JSON.parse(text.slice(start, at)) as string;
  };
  const readValue = (path: string): void => {
    skip();
    lines.set(path, line);
    const below = (key: string | number): string => (path === '' ? String(key) : `${path}.${key}`);
    const open = text[at];
    if (open === '{' || open === '[') {
      at += 1;
      let index = 0;
      for (skip(); at < text.length && text[at] !== '}' && text[at] !== ']'; skip()) {
        if (open === '{') {
          const keyLine = line;
          const key = readString();
          readValue(below(key));
          lines.set(below(key), keyLine);
        } else {
          readValue(below(index));
          index += 1;
        }
      }
      at += 1;
    } else if (open === '"') {
      readString();
    } else {
      while (at < text.length && !/[\s,\]}]/.test(text[at])) at += 1;
    }
  };
  readValue('');
  return lines;
}

/**
 * The first key that an object of a valid JSON text has twice, and its line: parsers take the last one without a word.
 * Without recursion, because texts may be nested deeply.
 */
export function repeatedKey(text: string): { readonly key: string; readonly line: number } | undefined {
  const open: (Set<string> | undefined)[] = [];
  const tokens = /"[^"\\]*(?:\\.[^"\\]*)*"(\s*:)?|[{}[\]]/gs;
  for (const token of text.matchAll(tokens)) {
    const [found, isKey] = token;
    if (found === '{') open.push(new Set());
    else if (found === '[') open.push(undefined);
    else if (found === '}' || found === ']') open.pop();
    else if (isKey !== undefined) {
      const key = JSON.parse(found.slice(0, found.length - isKey.length)) as string;
      const keys = open[open.length - 1];
      if (keys?.has(key)) return { key, line: text.slice(0, token.index).split('\n').length };
      keys?.add(key);
    }
  }
  return undefined;
}

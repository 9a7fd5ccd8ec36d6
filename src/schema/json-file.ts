import { InputError } from '../errors.js';
import { givenText } from '../given.js';
import { wrongFile } from './our-files.js';

/** No file of this project holds lists in lists deeper than this. */
const DEEPEST = 200;

/** A value on the way through a text: its path, the line on which it or its key begins, whether its key stood there before. */
interface Met {
  readonly path: readonly (string | number)[];
  readonly line: number;
  readonly isAgain: boolean;
}

/** Strings and whether they are keys, brackets, line feeds, and all other values. */
const TOKENS = /"[^"\\]*(?:\\.[^"\\]*)*"(\s*:)?|[{}[\]\n]|[^\s",:{}[\]]+/gs;

/** Goes through a valid JSON text; paths hold only until the next step. Without recursion: texts may be nested deeply. */
export function* valuesOf(text: string): Generator<Met> {
  const path: (string | number)[] = [];
  /** The keys so far of every object that is open; undefined for a list. */
  const open: (Set<string> | undefined)[] = [];
  let line = 1;
  for (const [token, colon] of text.matchAll(TOKENS)) {
    const last = open.length - 1;
    const keys = open[last];
    if (token === '\n') line += 1;
    else if (token === '}' || token === ']') {
      open.pop();
      path.pop();
    } else if (keys && colon !== undefined) {
      const key = JSON.parse(token.slice(0, -colon.length)) as string;
      path[last] = key;
      yield { path, line, isAgain: keys.has(key) };
      keys.add(key);
      line += colon.split('\n').length - 1;
    } else {
      if (!keys) {
        if (last >= 0) path[last] = Number(path[last]) + 1;
        yield { path, line, isAgain: false };
      }
      if (token === '{' || token === '[') {
        open.push(token === '{' ? new Set() : undefined);
        path.push(-1);
      }
    }
  }
}

/**
 * Parses a JSON text; a byte order mark is accepted.
 *
 * @throws {InputError} JSON_SYNTAX, JSON_TOO_DEEP, REPEATED_KEY, all with the line
 */
export function parseJsonText(text: string, file: string): unknown {
  const value = parsed(givenText(text, file), file);
  for (const { path, line, isAgain } of valuesOf(text)) {
    if (path.length > DEEPEST) {
      throw new InputError({
        code: 'JSON_TOO_DEEP',
        place: { file, line },
        message: `lists and objects lie in each other more than ${DEEPEST} deep.`,
        hint: 'Check that this is the right file.',
      });
    }
    // Parsers take the last one without a word.
    if (isAgain) {
      throw new InputError({
        code: 'REPEATED_KEY',
        place: { file, line, key: String(path.at(-1)) },
        message: 'this key stands twice in the same object, so one of the two would be lost.',
        hint: 'Take the wrong one out.',
      });
    }
  }
  return value;
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

import { InputError, type Problem, refuseAll } from './errors.js';

/** What the door of a library wants of one value that it is given. */
export interface Want {
  readonly fits: (value: unknown) => boolean;
  /** "a number above 0". */
  readonly words: string;
  /** What can't be left out; everything else may be undefined. */
  readonly needed?: boolean;
}

const isNumber = (value: unknown): value is number => typeof value === 'number';

export const someNumber: Want = { fits: isNumber, words: 'a number' };
export const aboveZero: Want = { fits: (v) => isNumber(v) && v > 0 && v < Infinity, words: 'a number above 0' };
export const zeroOrMore: Want = { fits: (v) => isNumber(v) && v >= 0 && v < Infinity, words: 'a number from 0 up' };
export const finite: Want = { fits: Number.isFinite, words: 'a finite number' };
export const someText: Want = { fits: (v) => typeof v === 'string', words: 'a text' };
export const yesOrNo: Want = { fits: (v) => typeof v === 'boolean', words: 'true or false' };
export const someList: Want = { fits: Array.isArray, words: 'a list' };
export const someFunction: Want = { fits: (v) => typeof v === 'function', words: 'a function' };

export const wholeWithin = (least: number, most: number): Want => ({
  fits: (v) => Number.isInteger(v) && isNumber(v) && v >= least && v <= most,
  words: `a whole number from ${least} to ${most}`,
});

export const oneOf = (...values: readonly unknown[]): Want => ({
  fits: (v) => values.includes(v),
  words: values
    .map(shown)
    .join(', ')
    .replace(/, ([^,]+)$/, ' or $1'),
});

export const either = (one: Want, other: Want): Want => ({
  fits: (v) => one.fits(v) || other.fits(v),
  words: `${one.words}, or ${other.words}`,
});

export const listOf = (each: Want, least = 0, most = Infinity): Want => ({
  fits: (v) => Array.isArray(v) && v.length >= least && v.length <= most && v.every((one) => each.fits(one)),
  words: `a list${least === most ? ` of ${least}` : least > 0 ? ` of at least ${least}` : ''}, each ${each.words}`,
});

/** An object of which these keys are wanted; it may have more. */
export const objectOf = (wants: Readonly<Record<string, Want>>): Want => ({
  fits: (v) => isObject(v) && Object.entries(wants).every(([key, want]) => want.fits(v[key])),
  words: ['an object', Object.entries(wants).map(([key, { words }]) => `${key} (${words})`).join(', ')].filter(Boolean).join(' of '), // biome-ignore format: one line
});

export const needed = (want: Want): Want => ({ ...want, needed: true });

/**
 * Refuses what a caller without types gives by mistake, and what would else be taken for something else without a word.
 *
 * @param what - what is looked at, for messages: `options`
 * @throws {InputError} BAD_VALUE for each key that is not as wanted
 */
export function checkGiven(what: string, given: unknown, wants: Readonly<Record<string, Want>>): void {
  const found: Problem[] = [];
  const refuse = (key: string, { words }: Want, value: unknown): void => {
    found.push({ code: 'BAD_VALUE', place: { key }, message: `expected ${words}, found ${shown(value)}.` });
  };
  if (!isObject(given)) refuse(what, objectOf({}), given);
  else
    for (const [key, want] of Object.entries(wants)) {
      const value = given[key];
      if (value === undefined ? want.needed : !want.fits(value)) refuse(`${what}.${key}`, want, value);
    }
  refuseAll(found);
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null;
}

function shown(value: unknown): string {
  if (typeof value === 'string') return JSON.stringify(value.slice(0, 40));
  if (Array.isArray(value)) return `a list of ${value.length}`;
  return isObject(value) ? `an object (${Object.keys(value).slice(0, 6).join(', ')})` : String(value);
}

/**
 * A file's bytes, also as they come from fetch.
 *
 * @throws {InputError} BAD_VALUE for a name, a stream or anything else that is no bytes
 */
export function givenBytes(bytes: Uint8Array | ArrayBuffer): Uint8Array {
  if (bytes instanceof Uint8Array) return bytes;
  if (bytes instanceof ArrayBuffer) return new Uint8Array(bytes);
  throw notOfAFile('bytes', 'the bytes of a file (a Uint8Array or an ArrayBuffer)', bytes);
}

/** The same, of a file that may have a name. */
export function givenFile(bytes: Uint8Array | ArrayBuffer, options: { readonly name?: string }): Uint8Array {
  checkGiven('options', options, { name: someText });
  return givenBytes(bytes);
}

/** @throws {InputError} BAD_VALUE for anything but a file's text */
export function givenText(text: string, file: string): string {
  if (typeof text === 'string') return text;
  throw notOfAFile('text', `the text of ${typeof file === 'string' ? file : 'a file'}`, text);
}

function notOfAFile(key: string, wanted: string, found: unknown): InputError {
  return new InputError({
    code: 'BAD_VALUE',
    place: { key },
    message: `expected ${wanted}, found ${shown(found)}.`,
    hint: 'Read the file first, for example with readFile of node:fs/promises.',
  });
}

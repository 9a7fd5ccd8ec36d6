import { composeMaps, IDENTITY, rotation, scaling, translation } from '../../geometry/affine.js';
import type { Affine } from '../../geometry/types.js';

/** One number as SVG and CSS write them. */
const NUMBER = '[+-]?(?:\\d+\\.?\\d*|\\.\\d+)(?:[eE][+-]?\\d+)?';

const LENGTH = new RegExp(`^\\s*(${NUMBER})\\s*([a-z%]*)\\s*$`, 'i');

/** Millimetres per unit, for units of a fixed physical size (CSS Values and Units, level 3, section 6.2). */
export const MM_PER_CSS_UNIT: Readonly<Record<string, number>> = {
  mm: 1,
  cm: 10,
  q: 0.25,
  in: 25.4,
  pt: 25.4 / 72,
  pc: 25.4 / 6,
};

/** CSS pixels per inch. */
export const PX_PER_INCH = 96;
const PX_PER_MM = PX_PER_INCH / 25.4;

/** What 1 em means where nothing says it, as in browsers. */
const FONT_PX = 16;

export interface SvgLength {
  readonly value: number;
  /** Lower case; '' for user units. */
  readonly unit: string;
}

/** Reads a length; undefined for anything else, such as `auto`. */
export function parseSvgLength(text: string | undefined): SvgLength | undefined {
  const match = text === undefined ? undefined : LENGTH.exec(text);
  return match ? { value: Number(match[1]), unit: match[2].toLowerCase() } : undefined;
}

/**
 * A length in user units (CSS pixels).
 *
 * @param whole - what 100 % means
 */
export function userUnits({ value, unit }: SvgLength, whole: number): number {
  if (unit === '' || unit === 'px') return value;
  if (unit === '%') return (value / 100) * whole;
  if (unit === 'em' || unit === 'rem') return value * FONT_PX;
  if (unit === 'ex' || unit === 'ch') return (value * FONT_PX) / 2;
  const mm = MM_PER_CSS_UNIT[unit];
  return mm === undefined ? value : value * mm * PX_PER_MM;
}

/** Units that every renderer knows, in small letters. */
const COMMON = new Set(['', '%', 'px', 'em', 'ex', 'mm', 'cm', 'in', 'pt', 'pc']);
/** Units of later standards, which become pixels. */
const LATER = new Set(['q', 'rem', 'ch']);

/**
 * Lengths in units that every renderer knows, with blanks between.
 *
 * @returns undefined when one is none, too large, or goes by the window that shows the drawing
 */
export function plainLengths(text: string): string | undefined {
  const plain = text
    .trim()
    .split(/\s*,\s*|\s+/)
    .map((part) => {
      const length = parseSvgLength(part);
      if (!length || !Number.isFinite(Math.fround(userUnits(length, 1)))) return undefined;
      if (COMMON.has(length.unit)) return `${length.value}${length.unit}`;
      return LATER.has(length.unit) ? String(userUnits(length, 1)) : undefined;
    });
  return plain.includes(undefined) ? undefined : plain.join(' ');
}

/** All numbers of a list, with commas or spaces between; stops at what is no number. */
export function numberList(text: string): number[] {
  const numbers: number[] = [];
  const next = new RegExp(`[\\s,]*(${NUMBER})`, 'y');
  for (let match = next.exec(text); match; match = next.exec(text)) numbers.push(Number(match[1]));
  return numbers;
}

/** Whether a text is nothing but numbers, as many as `count` or a multiple of it. */
export function isNumberList(text: string, count: number): boolean {
  const bare = text.replace(new RegExp(NUMBER, 'g'), ' ').replace(/[\s,]+/g, '');
  const numbers = numberList(text);
  return bare === '' && numbers.length % count === 0 && numbers.every((value) => Number.isFinite(Math.fround(value)));
}

/** 2 units in the last place of a single-precision number, relative. */
const SINGLE = 2 ** -22;

/**
 * The number of seven digits that was meant, where one lies within the rounding of a single-precision number; libraries
 * that compute in single precision would else tear shapes apart that share a wall.
 */
export function fromSingle(value: number): number {
  const short = Number(value.toPrecision(7));
  return Math.abs(short - value) <= SINGLE * Math.abs(value) ? short : value;
}

const tangent = (degrees: number): number => Math.tan((degrees * Math.PI) / 180);

/** By name in small letters: how many numbers each may have, and the map that they make, the first one in degrees. */
const TRANSFORMS: Readonly<
  Record<string, readonly [counts: readonly number[], map: (n: readonly number[]) => Affine]>
> = {
  matrix: [[6], ([a, c, b, d, e, f]) => ({ a, b, c, d, e, f })],
  translate: [[1, 2], ([x, y = 0]) => translation(x, y)],
  scale: [[1, 2], ([x, y = x]) => scaling(x, y)],
  rotate: [
    [1, 3],
    ([angle, x, y]) => {
      const turn = rotation(angle);
      return x === undefined ? turn : composeMaps(translation(x, y), composeMaps(turn, translation(-x, -y)));
    },
  ],
  skewx: [[1], ([angle]) => ({ ...IDENTITY, b: tangent(angle) })],
  skewy: [[1], ([angle]) => ({ ...IDENTITY, c: tangent(angle) })],
};

function one(name: string, n: readonly number[]): Affine | undefined {
  const key = name.toLowerCase();
  const [counts, map] = (Object.hasOwn(TRANSFORMS, key) && TRANSFORMS[key]) || [];
  return counts?.includes(n.length) ? map?.(n) : undefined;
}

/**
 * Reads a transform list, attribute or CSS property. Coordinates as SVG has them, y down.
 *
 * @returns undefined when it can't be read
 */
export function parseTransform(text: string | undefined): Affine | undefined {
  if (text === undefined || text.trim() === '' || text.trim() === 'none') return IDENTITY;
  let map: Affine = IDENTITY;
  const call = /\s*,?\s*([A-Za-z]+)\s*\(([^()]*)\)/y;
  let end = 0;
  for (let match = call.exec(text); match; match = call.exec(text)) {
    // The units of CSS that mean what plain numbers do.
    const plain = match[2].replace(/(?<=[\d.])(?:px|deg)\b/gi, ' ');
    const next = isNumberList(plain, 1) ? one(match[1], numberList(plain)) : undefined;
    if (!next || !Object.values(next).every(Number.isFinite)) return undefined;
    map = composeMaps(map, next);
    end = call.lastIndex;
  }
  return text.slice(end).trim() === '' ? map : undefined;
}

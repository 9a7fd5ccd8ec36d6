import { MM_PER_INCH } from '../../text.js';
import type { Diagnostics } from '../paint/diagnostics.js';
import type { Command } from './lex.js';

/** How the digits of one axis are read. */
interface AxisFormat {
  readonly integers: number;
  readonly decimals: number;
}

/** What the FS command states. */
export interface CoordinateFormat {
  readonly x: AxisFormat;
  readonly y: AxisFormat;
  /** Trailing zeros are left out, so that digits count from the left. */
  readonly trailingOmitted: boolean;
  readonly incremental: boolean;
}

/**
 * Reads an FS command: `FSLAX36Y36`, older ones with T, D or no letter, with I, with N, G, D and M digit counts, and
 * with an order of their own.
 *
 * @returns undefined when it has no usable digits for X and Y
 */
export function parseFormat(text: string): CoordinateFormat | undefined {
  const rest = text.slice(2).replace(/\s+/g, '').toUpperCase();
  const x = /X(\d)(\d)/.exec(rest);
  const y = /Y(\d)(\d)/.exec(rest);
  const any = x ?? y;
  if (!any) return undefined;
  // A file with one axis only leaves the other as it is.
  const axis = (match: RegExpExecArray | null): AxisFormat => {
    const m = match ?? any;
    return { integers: Number(m[1]), decimals: Number(m[2]) };
  };
  const letters = /^[A-Z]*?(?=[XYNGDM]\d|$)/.exec(rest)?.[0] ?? '';
  const format = { x: axis(x), y: axis(y), trailingOmitted: letters.includes('T'), incremental: letters.includes('I') };
  // More than 7 decimals is no format that ever was; it would shrink the board to a dot.
  if (format.x.decimals > 7 || format.y.decimals > 7) return undefined;
  return format;
}

/**
 * A coordinate's value in the file's unit.
 *
 * @param digits - as written, with sign
 * @param axis - how its digits are read; undefined for a number with a decimal point
 * @returns NaN when it is no number
 */
export function decodeCoordinate(digits: string, axis: AxisFormat | undefined, trailingOmitted: boolean): number {
  if (digits === '' || digits === '+' || digits === '-') return Number.NaN;
  const value = Number(digits);
  if (!axis) return value;
  if (!trailingOmitted) return value / 10 ** axis.decimals;
  const signed = digits[0] === '-' || digits[0] === '+';
  const count = digits.length - (signed ? 1 : 0);
  return value / 10 ** (count - axis.integers);
}

/** Digits of a coordinate that its format has no place for: it may be written in another format, a power of ten off. */
export function digitsTooMany(
  digits: string,
  { integers, decimals }: Pick<AxisFormat, 'integers' | 'decimals'>,
  trailingOmitted: boolean,
): number {
  if (digits.length <= integers + decimals) return 0;
  // Zeros at the end from which digits are not counted say nothing.
  const telling = digits.replace(/^[+-]/, '').replace(trailingOmitted ? /0+$/ : /^0+/, '');
  return Math.max(0, telling.length - integers - decimals);
}

/** What the middle land of a paste layer may measure, mm. */
const LAND_MM = { least: 0.15, most: 8 };

/**
 * The unit that a file begins with, as millimetres per unit: the first MO, else the first G70 or G71, wherever it
 * stands. A file that states none is read as the one unit that makes its apertures lands of parts, with a warning.
 *
 * @returns undefined when nothing tells; lengths are then a problem
 */
export function findUnit(commands: readonly Command[], notes: Diagnostics): number | undefined {
  let byCode: number | undefined;
  const sizes: number[] = [];
  for (const { text } of commands) {
    const mode = /^MO\s*(MM|IN)/i.exec(text);
    if (mode) return mode[1].toUpperCase() === 'MM' ? 1 : MM_PER_INCH;
    if (/^g0*4(?!\d)/i.test(text)) continue;
    const code = /^(?:[NGXY][\d+-]*)*?G7([01])(?!\d)/i.exec(text);
    if (code) byCode ??= code[1] === '1' ? 1 : MM_PER_INCH;
    const aperture = /^AD\s*D\d+\s*([CROP])\s*,\s*([\d.]+)(?:\s*X\s*([\d.]+))?/i.exec(text);
    if (aperture) {
      sizes.push(Number(aperture[2]));
      if (/[RO]/i.test(aperture[1]) && aperture[3]) sizes.push(Number(aperture[3]));
    }
  }
  return byCode ?? guessUnit(sizes, notes);
}

function guessUnit(sizes: readonly number[], notes: Diagnostics): number | undefined {
  const sorted = sizes.filter((size) => size > 0).sort((p, q) => p - q);
  const middle = sorted.slice(sorted.length / 2).slice(0, 1);
  const mm = unitThatFits(middle, LAND_MM);
  if (mm === undefined) return undefined;
  notes.warnOnce(
    'UNIT_ASSUMED',
    `the file does not state its unit; its apertures (${middle} in the middle) are lands of parts only in ${mm === 1 ? 'millimetres' : 'inch'}, and so it is read.`,
    'Check the size of the board; a wrong unit is a factor of 25.4.',
  );
  return mm;
}

/** The one unit, in mm, in which all sizes lie between two; undefined when it is none or both. */
export function unitThatFits(
  sizes: readonly number[],
  { least, most }: { readonly least: number; readonly most: number },
): number | undefined {
  const fits = (mm: number): boolean => sizes.every((size) => size * mm >= least && size * mm <= most);
  const [metric, inch] = [fits(1), fits(MM_PER_INCH)];
  return metric === inch ? undefined : metric ? 1 : MM_PER_INCH;
}

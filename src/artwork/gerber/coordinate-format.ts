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

/** A power for each coordinate is a hundredth of a command; no format has more than 7 decimals. */
const POWERS_OF_TEN = [1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7];

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
  if (!trailingOmitted) return value / POWERS_OF_TEN[axis.decimals];
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

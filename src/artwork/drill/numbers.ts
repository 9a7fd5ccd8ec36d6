/** How digits without a decimal point are read, as far as the file states it. */
export interface NumberFormat {
  readonly integers?: number;
  readonly decimals?: number;
  /** Which zeros are written: `leading` (LZ) counts digits from the left, `trailing` (TZ) from the right. */
  readonly keeps?: 'leading' | 'trailing';
}

/** Digits of the two usual formats when the file states none: 2.4 inch and 3.3 mm. Common practice, no source. */
const USUAL = { mm: { integers: 3, decimals: 3 }, inch: { integers: 2, decimals: 4 } };

/**
 * The value of one axis in a drill command, in the file's unit.
 *
 * @param text - for example `X1000Y-2.5`
 * @param assume - told what was assumed when the file does not state its format
 * @returns undefined when the axis is not there, NaN when it is no number
 */
export function drillNumbers(
  text: string,
  axis: 'X' | 'Y',
  format: NumberFormat,
  assume: (what: string) => void = () => undefined,
  metric = false,
): number | undefined {
  const match = new RegExp(`${axis}([+-]?[\\d.]*)`).exec(text);
  if (!match) return undefined;
  const digits = match[1];
  if (digits === '' || digits === '+' || digits === '-') return Number.NaN;
  if (digits.includes('.')) return Number(digits);
  const usual = metric ? USUAL.mm : USUAL.inch;
  if (format.decimals === undefined) {
    assume(
      `coordinates have no decimal point and the file states no format; read as ${usual.integers}.${usual.decimals} digits.`,
    );
  }
  if (format.keeps === undefined) {
    assume(
      'coordinates have no decimal point and the file does not say which zeros it leaves out; read as leading zeros left out.',
    );
  }
  const integers = format.integers ?? usual.integers;
  const decimals = format.decimals ?? usual.decimals;
  if (format.keeps === 'leading') {
    const count = digits.replace(/^[+-]/, '').length;
    return Number(digits) / 10 ** (count - integers);
  }
  return Number(digits) / 10 ** decimals;
}

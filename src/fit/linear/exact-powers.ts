import { type Dd, type DdVector, ddMultiply, ddVector } from './double-double.js';

const HIGHEST_POWER = 40;
/** Errors in units of the last place that a power by repeated multiplication or `**` may carry for each factor. */
const ULPS_A_FACTOR = 2;

/**
 * Columns that are, to rounding, powers of another column, worked out anew in double-double. A polynomial's columns
 * nearly depend on each other, and the rounding of x**k to a double is then what costs most digits: on a polynomial of
 * degree 10 over -9 to -3, six digits are left of sixteen with the columns as handed in, thirteen with exact powers.
 *
 * @returns for each column its exact values, or undefined when it is no power
 */
export function exactPowers(rows: readonly (readonly number[])[]): (DdVector | undefined)[] {
  const width = rows[0].length;
  const exact = new Array<DdVector | undefined>(width).fill(undefined);
  for (let base = 0; base < width; base += 1) {
    // The row furthest from 1 tells the exponent best.
    const telling = rows.reduce((best, row, i) => {
      const size = (r: readonly number[]): number => (r[base] === 0 ? 0 : Math.abs(Math.log(Math.abs(r[base]))));
      return size(row) > size(rows[best]) ? i : best;
    }, 0);
    const logBase = Math.log(Math.abs(rows[telling][base]));
    if (!Number.isFinite(logBase) || logBase === 0) continue;
    for (let column = 0; column < width; column += 1) {
      if (column === base || exact[column]) continue;
      const power = Math.round(Math.log(Math.abs(rows[telling][column])) / logBase);
      if (power >= 2 && power <= HIGHEST_POWER) exact[column] = powerOf(rows, base, column, power);
    }
  }
  return exact;
}

function powerOf(
  rows: readonly (readonly number[])[],
  base: number,
  column: number,
  power: number,
): DdVector | undefined {
  const values = ddVector(rows.length);
  for (let i = 0; i < rows.length; i += 1) {
    const x: Dd = [rows[i][base], 0];
    let value: Dd = x;
    for (let k = 1; k < power; k += 1) value = ddMultiply(value, x);
    const off = Math.abs(value[0] - rows[i][column]);
    if (!(off <= ULPS_A_FACTOR * power * Number.EPSILON * Math.abs(value[0]))) return undefined;
    values.hi[i] = value[0];
    values.lo[i] = value[1];
  }
  return values;
}

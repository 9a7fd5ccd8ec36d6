/** Doubles as whole numbers times a power of two: sums of their products are exact, however long they get. */
export interface Wholes {
  readonly whole: readonly bigint[];
  readonly power: number;
}

/** Finite doubles, without any loss. */
export function exactly(values: readonly number[]): Wholes {
  const parts = [...new BigInt64Array(Float64Array.from(values).buffer)].map((bits) => {
    const exponent = Number((bits >> 52n) & 2047n);
    const size = (bits & (2n ** 52n - 1n)) | (exponent > 0 ? 2n ** 52n : 0n);
    return { signed: bits < 0n ? -size : size, power: Math.max(1, exponent) - 1075 };
  });
  const power = parts.reduce((least, one) => (one.signed === 0n ? least : Math.min(least, one.power)), 1000);
  return { whole: parts.map(({ signed, power: own }) => (signed === 0n ? 0n : signed << BigInt(own - power))), power };
}

/** A quotient of whole numbers, times a power of two, as a double: right to the last digit or two. */
export function quotient(above: bigint, below: bigint, power = 0): number {
  const shift = lengthOf(below) - lengthOf(above) + 64;
  const rounded = shift >= 0 ? (above << BigInt(shift)) / below : above / (below << BigInt(-shift));
  // In two steps, for a power of its own may be out of reach.
  const half = (power - shift) >> 1;
  return Number(rounded) * 2 ** half * 2 ** (power - shift - half);
}

/** About how many bits it has. */
const lengthOf = (value: bigint): number => 4 * value.toString(16).length;

/**
 * Inverts without fractions, column by column in the given order; a column of which less than `tolerance` is left once
 * those before it are taken out counts as dependent on them.
 *
 * @param gram - products of columns with each other
 * @returns the rows and columns `kept`, which do not depend on those before them, and their inverse times the determinant
 * Source: E. H. Bareiss, Math. Comp. 22 (1968) 565-578: each division is exact.
 */
export function inverted(gram: readonly (readonly bigint[])[], tolerance: number) {
  const size = gram.length;
  const table = gram.map((row, i) => [...row, ...gram.map((_, k) => (i === k ? 1n : 0n))]);
  const kept: number[] = [];
  let determinant = 1n;
  table.forEach((own, k) => {
    const [pivot, before] = [own[k], determinant];
    if (gram[k][k] === 0n || Math.sqrt(quotient(pivot, before * gram[k][k])) <= tolerance) return;
    kept.push(k);
    for (const other of table) {
      const factor = other[k];
      if (other !== own) for (let j = 0; j < 2 * size; j += 1) other[j] = (pivot * other[j] - factor * own[j]) / before;
    }
    determinant = pivot;
  });
  return { kept, adjugate: kept.map((j) => kept.map((k) => table[j][size + k])), determinant };
}

const HIGHEST_POWER = 40;
/** Errors in units of the last place that a power by repeated multiplication or `**` may carry for each factor. */
const ULPS_A_FACTOR = 2;

/**
 * Columns that are, to rounding, powers of another column, worked out anew. A polynomial's columns nearly depend on each
 * other, and the rounding of x**k to a double is then what costs most digits: on a polynomial of degree 10 over -9 to -3,
 * six digits are left of sixteen with the columns as handed in, thirteen with exact powers.
 *
 * @param columns - as handed in
 * @returns for each column its exact values, or undefined when it is no power
 */
export function exactPowers(columns: readonly (readonly number[])[]): (Wholes | undefined)[] {
  return columns.map((column, at) => {
    for (const [from, base] of columns.entries()) {
      const power = from === at ? undefined : powerOf(base, column);
      if (power === undefined) continue;
      const { whole, power: shift } = exactly(base);
      return { whole: whole.map((value) => value ** BigInt(power)), power: shift * power };
    }
    return undefined;
  });
}

function powerOf(base: readonly number[], column: readonly number[]): number | undefined {
  // The value furthest from 1 tells the exponent best.
  const size = (value: number): number => (value === 0 ? 0 : Math.abs(Math.log(Math.abs(value))));
  const telling = base.reduce((best, value, i) => (size(value) > size(base[best]) ? i : best), 0);
  const power = Math.round(Math.log(Math.abs(column[telling])) / Math.log(Math.abs(base[telling])));
  if (!(power >= 2 && power <= HIGHEST_POWER)) return undefined;
  const isPower = base.every((x, i) => {
    const value = x ** power;
    return Math.abs(value - column[i]) <= ULPS_A_FACTOR * power * Number.EPSILON * Math.abs(value);
  });
  return isPower ? power : undefined;
}

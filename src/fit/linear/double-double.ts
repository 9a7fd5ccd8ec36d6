/**
 * Numbers with twice the precision of a double (about 31 digits), as an unevaluated sum hi + lo.
 *
 * Source: T. J. Dekker, A floating-point technique for extending the available precision, Numer. Math. 18 (1971),
 * 224-242 (split, product); D. E. Knuth, The Art of Computer Programming, vol. 2, 4.2.2 (exact sum).
 * JavaScript has no fused multiply-add, so products are split. Inputs must stay below 1e300, see the caller's scaling.
 */
export type Dd = readonly [hi: number, lo: number];

/** A vector of double-double numbers. */
export interface DdVector {
  readonly hi: Float64Array;
  readonly lo: Float64Array;
}

const SPLITTER = 134217729; // 2^27 + 1

function ddVector(length: number): DdVector {
  return { hi: new Float64Array(length), lo: new Float64Array(length) };
}

function ddAdd(a: Dd, b: Dd): Dd {
  const s = a[0] + b[0];
  const v = s - a[0];
  const e = a[0] - (s - v) + (b[0] - v) + a[1] + b[1];
  const hi = s + e;
  return [hi, e - (hi - s)];
}

function ddNegate(a: Dd): Dd {
  return [-a[0], -a[1]];
}

export function ddMultiply(a: Dd, b: Dd): Dd {
  const p = a[0] * b[0];
  let t = SPLITTER * a[0];
  const a1 = t - (t - a[0]);
  const a2 = a[0] - a1;
  t = SPLITTER * b[0];
  const b1 = t - (t - b[0]);
  const b2 = b[0] - b1;
  const e = a1 * b1 - p + a1 * b2 + a2 * b1 + a2 * b2 + (a[0] * b[1] + a[1] * b[0]);
  const hi = p + e;
  return [hi, e - (hi - p)];
}

/** a / b by two steps of long division. */
function ddDivide(a: Dd, b: Dd): Dd {
  const q1 = a[0] / b[0];
  const r = ddAdd(a, ddNegate(ddMultiply([q1, 0], b)));
  const q2 = r[0] / b[0];
  const r2 = ddAdd(r, ddNegate(ddMultiply([q2, 0], b)));
  return ddAdd(ddAdd([q1, 0], [q2, 0]), [r2[0] / b[0], 0]);
}

/** Square root by one Newton step from the double's. */
function ddSqrt(a: Dd): Dd {
  if (!(a[0] > 0)) return [0, 0];
  const root = Math.sqrt(a[0]);
  const rest = ddAdd(a, ddNegate(ddMultiply([root, 0], [root, 0])));
  return ddAdd([root, 0], [rest[0] / (2 * root), 0]);
}

const at = ({ hi, lo }: DdVector, i: number): Dd => [hi[i], lo[i]];

function put({ hi, lo }: DdVector, i: number, value: Dd): void {
  hi[i] = value[0];
  lo[i] = value[1];
}

/** Dot product. */
export function ddDot(a: DdVector, b: DdVector): Dd {
  let sum: Dd = [0, 0];
  for (let i = 0; i < a.hi.length; i += 1) sum = ddAdd(sum, ddMultiply(at(a, i), at(b, i)));
  return sum;
}

/** y <- y + factor·x */
function ddAddScaled(y: DdVector, factor: Dd, x: DdVector): void {
  for (let i = 0; i < x.hi.length; i += 1) put(y, i, ddAdd(at(y, i), ddMultiply(factor, at(x, i))));
}

/** x <- factor·x */
function ddScale(x: DdVector, factor: Dd): void {
  for (let i = 0; i < x.hi.length; i += 1) put(x, i, ddMultiply(at(x, i), factor));
}

/** Columns of X = Q R, worked out in double-double arithmetic; only independent columns take part. */
export interface DdQr {
  /** Orthonormal, one for each kept column. */
  readonly q: readonly DdVector[];
  /** r[i][j], i <= j, for the kept columns. */
  readonly r: readonly (readonly Dd[])[];
  /** Indices of the kept columns, in the given order. */
  readonly kept: readonly number[];
  /** Columns that depend on earlier ones, with their coefficients on the kept columns before them. */
  readonly aliased: readonly { readonly column: number; readonly on: readonly Dd[] }[];
  /** How much of each column was left after the earlier ones were taken out, as a share of its length. */
  readonly left: readonly number[];
}

/**
 * Modified Gram-Schmidt on the columns in their given order; a column of which less than `tolerance` is left counts
 * as dependent on the ones before it. The columns are used up.
 *
 * At this precision one pass is enough: the loss of orthogonality is the condition number times 1e-31.
 * Source: Å. Björck, Solving linear least squares problems by Gram-Schmidt orthogonalization, BIT 7 (1967), 1-21.
 */
export function ddQr(columns: readonly DdVector[], tolerance: number): DdQr {
  const q: DdVector[] = [];
  const kept: number[] = [];
  const r: Dd[][] = [];
  const aliased: { column: number; on: Dd[] }[] = [];
  const left: number[] = [];
  columns.forEach((column, index) => {
    const before = ddSqrt(ddDot(column, column))[0];
    const coefficients = takeOut(column, q);
    const norm = ddSqrt(ddDot(column, column));
    left.push(before === 0 ? 0 : norm[0] / before);
    if (before === 0 || norm[0] <= tolerance * before) {
      aliased.push({ column: index, on: solveUpper(r, coefficients) });
      return;
    }
    ddScale(column, ddDivide([1, 0], norm));
    r.forEach((row, i) => {
      row.push(coefficients[i]);
    });
    r.push([...new Array<Dd>(q.length).fill([0, 0]), norm]);
    q.push(column);
    kept.push(index);
  });
  return { q, r, kept, aliased, left };
}

/** Takes the parts along orthonormal vectors out of a vector, in place; returns their sizes. */
export function takeOut(vector: DdVector, q: readonly DdVector[]): Dd[] {
  return q.map((direction) => {
    const size = ddDot(direction, vector);
    ddAddScaled(vector, ddNegate(size), direction);
    return size;
  });
}

/** Solves R x = b for an upper triangular R. */
export function solveUpper(r: readonly (readonly Dd[])[], b: readonly Dd[]): Dd[] {
  const x = [...b];
  for (let i = x.length - 1; i >= 0; i -= 1) {
    for (let j = i + 1; j < x.length; j += 1) x[i] = ddAdd(x[i], ddNegate(ddMultiply(r[i][j], x[j])));
    x[i] = ddDivide(x[i], r[i][i]);
  }
  return x;
}

/** (RᵀR)⁻¹ by way of R⁻¹; RᵀR is never formed. */
export function inverseOfGram(r: readonly (readonly Dd[])[]): Dd[][] {
  const size = r.length;
  const inverse = Array.from({ length: size }, (_, j) =>
    solveUpper(
      r,
      Array.from({ length: size }, (__, i): Dd => [i === j ? 1 : 0, 0]),
    ),
  );
  // inverse[j] is column j of R⁻¹.
  return Array.from({ length: size }, (_, a) =>
    Array.from({ length: size }, (__, b) => {
      let sum: Dd = [0, 0];
      for (let j = Math.max(a, b); j < size; j += 1) sum = ddAdd(sum, ddMultiply(inverse[j][a], inverse[j][b]));
      return sum;
    }),
  );
}

/** A double-double vector from doubles, times a factor that must be a power of two. */
export function toDdVector(length: number, value: (index: number) => number, factor: number): DdVector {
  const vector = ddVector(length);
  for (let i = 0; i < length; i += 1) vector.hi[i] = value(i) * factor;
  return vector;
}

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

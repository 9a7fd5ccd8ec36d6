import {
  type Dd,
  type DdVector,
  ddAdd,
  ddAddScaled,
  ddDivide,
  ddDot,
  ddMultiply,
  ddNegate,
  ddScale,
  ddSqrt,
  ddVector,
} from './double-double.js';

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

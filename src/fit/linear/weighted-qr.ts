/** The pieces of a weighted linear fit in plain doubles. */
export interface WeightedQr {
  readonly solution: Float64Array;
  /** (XᵀWX)⁻¹ by way of R⁻¹. */
  readonly inverse: number[][];
  /** R⁻¹, upper triangular. */
  readonly inverseR: number[][];
  /** Diagonal of the hat matrix. */
  readonly leverages: Float64Array;
  /** Orthonormal columns that span the weighted design's. */
  readonly q: readonly Float64Array[];
  /** What is left of the weighted rows. */
  readonly rest: Float64Array;
  /** Of the weights. */
  readonly roots: Float64Array;
  /** Smallest share of a column that was left when the earlier ones had been taken out. */
  readonly leastLeft: number;
}

/**
 * Solves a weighted linear problem by modified Gram-Schmidt, plain doubles: the step inside iterations on well-scaled
 * problems, where the exact `leastSquares` would cost time and give nothing.
 *
 * @param columns - of the design, each as long as `y`; not changed
 * @param weights - one for each row, > 0
 */
export function weightedQr(columns: readonly Float64Array[], y: Float64Array, weights: Float64Array): WeightedQr {
  const count = y.length;
  const size = columns.length;
  const roots = new Float64Array(count);
  for (let i = 0; i < count; i += 1) roots[i] = Math.sqrt(weights[i]);
  const weighted = (column: Float64Array): Float64Array => {
    const out = new Float64Array(count);
    for (let i = 0; i < count; i += 1) out[i] = column[i] * roots[i];
    return out;
  };
  const q = columns.map(weighted);
  const rest = weighted(y);
  const before = q.map(norm);
  const r = squareOfNoughts(size);
  const projection = new Float64Array(size);
  let leastLeft = Number.POSITIVE_INFINITY;
  for (let k = 0; k < size; k += 1) {
    r[k][k] = norm(q[k]);
    leastLeft = Math.min(leastLeft, before[k] === 0 ? 0 : r[k][k] / before[k]);
    if (r[k][k] > 0) for (let i = 0; i < count; i += 1) q[k][i] /= r[k][k];
    for (let j = k + 1; j < size; j += 1) r[k][j] = takeAway(q[j], q[k]);
    projection[k] = takeAway(rest, q[k]);
  }
  const inverseR = invertUpper(r);
  const solution = new Float64Array(size);
  const inverse = squareOfNoughts(size);
  for (let i = 0; i < size; i += 1) {
    for (let j = i; j < size; j += 1) {
      solution[i] += inverseR[i][j] * projection[j];
      let sum = 0;
      for (let k = j; k < size; k += 1) sum += inverseR[i][k] * inverseR[j][k];
      inverse[i][j] = inverse[j][i] = sum;
    }
  }
  const leverages = new Float64Array(count);
  for (const column of q) for (let i = 0; i < count; i += 1) leverages[i] += column[i] * column[i];
  return { solution, inverse, inverseR, leverages, q, rest, roots, leastLeft };
}

/** What some columns would tell in a fit that lacks them. */
export interface Added {
  /** Weighted squares that they take away. */
  readonly gain: number;
  /** Standard deviations of their coefficients, where weights are 1/variance. */
  readonly sds: readonly number[];
  /** Least share of a column that is left once all others are taken out of it. */
  readonly least: number;
}

/**
 * Tells what further columns would add to a fit, for searches: a tenth of the work of a fit.
 *
 * @param left - what is left of the weighted rows, of which the first `count` are asked about; default: all that is
 * @returns of columns without weights; rows that they lack are noughts
 */
export function addedTo(
  { q, rest, roots }: WeightedQr,
  left: Float64Array = rest,
  count = rest.length,
): (columns: readonly Float64Array[]) => Added {
  const cleared = (values: Float64Array, of: readonly Float64Array[]): Float64Array => {
    for (const direction of of) takeAway(values, direction);
    return values;
  };
  const squares = (values: Float64Array): number => norm(values.subarray(0, count)) ** 2;
  const before = squares(left);
  const free = cleared(left.slice(), q);
  const ones = new Float64Array(rest.length).fill(1);
  return (columns) => {
    const own = columns.map((column) => roots.map((root, i) => root * (column[i] ?? 0)));
    const sizes = own.map(norm);
    const qr = weightedQr(own.map((one) => cleared(one, q)), free, ones); // biome-ignore format: one call
    const sds = own.map((_, k) => Math.sqrt(qr.inverse[k][k]));
    const shares = sizes.map((size, k) => (size > 0 ? 1 / (sds[k] * size) : 0));
    return { gain: before - squares(cleared(free.slice(), qr.q)), sds, least: Math.min(...shares) };
  };
}

function squareOfNoughts(size: number): number[][] {
  return Array.from({ length: size }, () => new Array<number>(size).fill(0));
}

const norm = (v: Float64Array): number => Math.sqrt(dot(v, v));

/** Takes a direction out of v, in place; gives how much of it there was. */
function takeAway(v: Float64Array, direction: Float64Array): number {
  let size = 0;
  for (let i = 0; i < v.length; i += 1) size += v[i] * direction[i];
  for (let i = 0; i < v.length; i += 1) v[i] -= size * direction[i];
  return size;
}

function invertUpper(r: readonly (readonly number[])[]): number[][] {
  const size = r.length;
  const inverse = squareOfNoughts(size);
  for (let j = 0; j < size; j += 1) {
    inverse[j][j] = 1 / r[j][j];
    for (let i = j - 1; i >= 0; i -= 1) {
      let sum = 0;
      for (let k = i + 1; k <= j; k += 1) sum += r[i][k] * inverse[k][j];
      inverse[i][j] = -sum / r[i][i];
    }
  }
  return inverse;
}

/** Sum of products; lengths must agree. */
export function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i] * b[i];
  return sum;
}

/** u M v. */
export const bilinear = (u: ArrayLike<number>, matrix: readonly ArrayLike<number>[], v: ArrayLike<number>): number =>
  matrix.reduce((sum, row, j) => sum + u[j] * dot(row, v), 0);

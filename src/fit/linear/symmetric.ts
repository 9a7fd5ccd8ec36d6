/** Lower Cholesky factor of a symmetric positive definite matrix; undefined when a pivot sinks below `tolerance` of its diagonal. */
export function cholesky(matrix: readonly (readonly number[])[], tolerance = 1e-14): number[][] | undefined {
  const size = matrix.length;
  const lower = matrix.map(() => new Array<number>(size).fill(0));
  for (let i = 0; i < size; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = matrix[i][j];
      for (let k = 0; k < j; k++) sum -= lower[i][k] * lower[j][k];
      if (i !== j) lower[i][j] = sum / lower[j][j];
      else if (sum > tolerance * matrix[i][i] && matrix[i][i] > 0) lower[i][i] = Math.sqrt(sum);
      else return undefined;
    }
  }
  return lower;
}

/** Solves L Lᵀ x = b. */
export function choleskySolve(lower: readonly (readonly number[])[], b: readonly number[]): number[] {
  const x = [...b];
  for (let i = 0; i < x.length; i++) {
    for (let k = 0; k < i; k++) x[i] -= lower[i][k] * x[k];
    x[i] /= lower[i][i];
  }
  for (let i = x.length - 1; i >= 0; i--) {
    for (let k = i + 1; k < x.length; k++) x[i] -= lower[k][i] * x[k];
    x[i] /= lower[i][i];
  }
  return x;
}

/** Inverse of L Lᵀ, exactly symmetric. */
export function choleskyInverse(lower: readonly (readonly number[])[]): number[][] {
  const columns = lower.map((_, j) =>
    choleskySolve(
      lower,
      lower.map((_row, i) => (i === j ? 1 : 0)),
    ),
  );
  return columns.map((column, i) => column.map((value, j) => (value + columns[j][i]) / 2));
}

/** ln det of L Lᵀ. */
export function choleskyLogDet(lower: readonly (readonly number[])[]): number {
  return lower.reduce((sum, row, i) => sum + 2 * Math.log(row[i]), 0);
}

/** A M Aᵀ. */
export function sandwich(a: readonly (readonly number[])[], m: readonly (readonly number[])[]): number[][] {
  const am = a.map((row) => m.map((_, j) => row.reduce((sum, value, k) => sum + value * m[k][j], 0)));
  return am.map((row) => a.map((other) => other.reduce((sum, value, k) => sum + value * row[k], 0)));
}

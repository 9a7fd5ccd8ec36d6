import { CholeskyDecomposition, Matrix } from 'ml-matrix';

type Rows = readonly (readonly number[])[];

/** Lower Cholesky factor of a symmetric positive definite matrix; undefined when a pivot sinks below `tolerance` of its diagonal. */
export function cholesky(matrix: Rows, tolerance = 1e-14): CholeskyDecomposition | undefined {
  // The lower half counts: sums in another order may leave the other half a digit off.
  const exact = matrix.map((row, i) => row.map((value, j) => (j < i ? value : matrix[j][i])));
  const decomposed = new CholeskyDecomposition(new Matrix(exact));
  const pivots = decomposed.lowerTriangularMatrix.diagonal();
  return pivots.every((pivot, i) => pivot ** 2 > tolerance * matrix[i][i]) ? decomposed : undefined;
}

/** Solves L Lᵀ x = b. */
export function choleskySolve(decomposed: CholeskyDecomposition, b: readonly number[]): number[] {
  return decomposed.solve(Matrix.columnVector(b as number[])).to1DArray();
}

/** Inverse of L Lᵀ, exactly symmetric. */
export function choleskyInverse(decomposed: CholeskyDecomposition): number[][] {
  const inverse = decomposed.solve(Matrix.eye(decomposed.lowerTriangularMatrix.rows));
  return Matrix.add(inverse, inverse.transpose()).div(2).to2DArray();
}

/** ln det of L Lᵀ. */
export function choleskyLogDet({ lowerTriangularMatrix }: CholeskyDecomposition): number {
  return lowerTriangularMatrix.diagonal().reduce((sum, pivot) => sum + 2 * Math.log(pivot), 0);
}

/** A M Aᵀ. */
export function sandwich(a: Rows, m: Rows): number[][] {
  const left = new Matrix(a as number[][]);
  return left
    .mmul(new Matrix(m as number[][]))
    .mmul(left.transpose())
    .to2DArray();
}

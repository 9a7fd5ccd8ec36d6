import { Matrix } from 'ml-matrix';

type Rows = readonly (readonly number[])[];

/** A M Aᵀ. */
export function sandwich(a: Rows, m: Rows): number[][] {
  const left = new Matrix(a as number[][]);
  return left
    .mmul(new Matrix(m as number[][]))
    .mmul(left.transpose())
    .to2DArray();
}

/** Sum of products; lengths must agree. */
export function dot(a: ArrayLike<number>, b: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < a.length; i += 1) sum += a[i] * b[i];
  return sum;
}

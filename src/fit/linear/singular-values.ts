/**
 * Singular values of a small square matrix, largest first, by one-sided Jacobi rotations: accurate also for the small ones.
 *
 * @param matrix - rows; at most a few dozen
 * Source: J. Demmel, K. Veselić, Jacobi's method is more accurate than QR, SIAM J. Matrix Anal. Appl. 13 (1992), 1204-1245.
 */
export function singularValues(matrix: readonly (readonly number[])[]): number[] {
  const size = matrix[0]?.length ?? 0;
  const columns = Array.from({ length: size }, (_, j) => matrix.map((row) => row[j]));
  for (let sweep = 0; sweep < 60; sweep += 1) {
    let turned = false;
    for (let p = 0; p < size; p += 1) {
      for (let q = p + 1; q < size; q += 1) turned = orthogonalise(columns[p], columns[q]) || turned;
    }
    if (!turned) break;
  }
  return columns.map((column) => Math.hypot(...column)).sort((a, b) => b - a);
}

/** Turns two columns so that they are square to each other; false when they are already. */
function orthogonalise(a: number[], b: number[]): boolean {
  let aa = 0;
  let bb = 0;
  let ab = 0;
  for (let i = 0; i < a.length; i += 1) {
    aa += a[i] * a[i];
    bb += b[i] * b[i];
    ab += a[i] * b[i];
  }
  if (Math.abs(ab) <= Number.EPSILON * Math.sqrt(aa * bb)) return false;
  const zeta = (bb - aa) / (2 * ab);
  const t = Math.sign(zeta || 1) / (Math.abs(zeta) + Math.sqrt(1 + zeta * zeta));
  const c = 1 / Math.sqrt(1 + t * t);
  for (let i = 0; i < a.length; i += 1) {
    const x = a[i];
    a[i] = c * (x - t * b[i]);
    b[i] = c * (t * x + b[i]);
  }
  return true;
}

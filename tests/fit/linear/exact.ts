/**
 * Least squares of polynomials in exact rational arithmetic (BigInt), as a reference that no rounding touches: the
 * normal equations are formed and solved without loss by Bareiss' fraction-free elimination (Math. Comp. 22 (1968) 565-578).
 */
export interface ExactFit {
  readonly coefficients: number[];
  readonly standardErrors: number[];
  readonly residualSd: number;
}

/** x and y as decimal strings with the given number of decimals. */
export function exactPolynomial(
  x: readonly string[],
  y: readonly string[],
  degree: number,
  decimals: number,
): ExactFit {
  const unit = 10n ** BigInt(decimals);
  const scaled = (text: string): bigint => {
    const [whole, part = ''] = text.replace('-', '').split('.');
    const value = BigInt(whole + part.padEnd(decimals, '0'));
    return text.startsWith('-') ? -value : value;
  };
  const xs = x.map(scaled);
  const ys = y.map(scaled);
  const size = degree + 1;
  // With X = unit·x the k-th coefficient of the scaled problem is the wanted one over unit^(k-1).
  const gram = Array.from({ length: size }, (_, j) =>
    Array.from({ length: size }, (__, k) => xs.reduce((sum, v) => sum + v ** BigInt(j + k), 0n)),
  );
  const right = Array.from({ length: size }, (_, j) => xs.reduce((sum, v, i) => sum + v ** BigInt(j) * ys[i], 0n));
  const identity = (j: number, k: number): bigint => (j === k ? 1n : 0n);
  const table = gram.map((row, j) => [...row, right[j], ...row.map((_, k) => identity(j, k))]);
  const determinant = bareiss(table);
  const squares =
    ys.reduce((sum, v) => sum + v * v, 0n) * determinant - right.reduce((sum, v, j) => sum + v * table[j][size], 0n);
  const dof = x.length - size;
  const variance = ratio(squares, determinant) / Number(unit) ** 2 / dof;
  const power = (k: number): bigint => unit ** BigInt(k);
  return {
    coefficients: Array.from({ length: size }, (_, k) =>
      k === 0 ? ratio(table[0][size], determinant * unit) : ratio(table[k][size] * power(k - 1), determinant),
    ),
    standardErrors: Array.from({ length: size }, (_, k) =>
      Math.sqrt(ratio(table[k][size + 1 + k] * power(2 * k), determinant) * variance),
    ),
    residualSd: Math.sqrt(variance),
  };
}

/** Reduces the left block to determinant times identity, in place; returns the determinant. */
function bareiss(table: bigint[][]): bigint {
  let before = 1n;
  const size = table.length;
  for (let k = 0; k < size; k += 1) {
    for (let i = 0; i < size; i += 1) {
      if (i === k) continue;
      const factor = table[i][k];
      for (let j = 0; j < table[i].length; j += 1) {
        table[i][j] = (table[k][k] * table[i][j] - factor * table[k][j]) / before;
      }
    }
    before = table[k][k];
  }
  return before;
}

/** A quotient of large integers as a double, right to the last digit or two. */
function ratio(above: bigint, below: bigint): number {
  const sign = above < 0n !== below < 0n ? -1 : 1;
  const a = above < 0n ? -above : above;
  const b = below < 0n ? -below : below;
  const shift = b.toString(2).length - a.toString(2).length + 64;
  const quotient = shift >= 0 ? (a << BigInt(shift)) / b : a / (b << BigInt(-shift));
  return sign * Number(quotient) * 2 ** -shift;
}

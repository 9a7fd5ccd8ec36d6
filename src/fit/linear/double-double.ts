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

export function ddVector(length: number): DdVector {
  return { hi: new Float64Array(length), lo: new Float64Array(length) };
}

export function ddAdd(a: Dd, b: Dd): Dd {
  const s = a[0] + b[0];
  const v = s - a[0];
  const e = a[0] - (s - v) + (b[0] - v) + a[1] + b[1];
  const hi = s + e;
  return [hi, e - (hi - s)];
}

export function ddNegate(a: Dd): Dd {
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
export function ddDivide(a: Dd, b: Dd): Dd {
  const q1 = a[0] / b[0];
  const r = ddAdd(a, ddNegate(ddMultiply([q1, 0], b)));
  const q2 = r[0] / b[0];
  const r2 = ddAdd(r, ddNegate(ddMultiply([q2, 0], b)));
  return ddAdd(ddAdd([q1, 0], [q2, 0]), [r2[0] / b[0], 0]);
}

/** Square root by one Newton step from the double's. */
export function ddSqrt(a: Dd): Dd {
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
export function ddAddScaled(y: DdVector, factor: Dd, x: DdVector): void {
  for (let i = 0; i < x.hi.length; i += 1) put(y, i, ddAdd(at(y, i), ddMultiply(factor, at(x, i))));
}

/** x <- factor·x */
export function ddScale(x: DdVector, factor: Dd): void {
  for (let i = 0; i < x.hi.length; i += 1) put(x, i, ddMultiply(at(x, i), factor));
}

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

/** Dot product. */
export function ddDot(a: DdVector, b: DdVector): Dd {
  let sumHi = 0;
  let sumLo = 0;
  const { hi: ah, lo: al } = a;
  const { hi: bh, lo: bl } = b;
  for (let i = 0; i < ah.length; i += 1) {
    const x = ah[i];
    const y = bh[i];
    const p = x * y;
    let t = SPLITTER * x;
    const x1 = t - (t - x);
    const x2 = x - x1;
    t = SPLITTER * y;
    const y1 = t - (t - y);
    const y2 = y - y1;
    const e = x1 * y1 - p + x1 * y2 + x2 * y1 + x2 * y2 + (x * bl[i] + al[i] * y);
    const s = sumHi + p;
    const v = s - sumHi;
    const rest = sumHi - (s - v) + (p - v) + (sumLo + e);
    sumHi = s + rest;
    sumLo = rest - (sumHi - s);
  }
  return [sumHi, sumLo];
}

/** y <- y + factor·x */
export function ddAddScaled(y: DdVector, factor: Dd, x: DdVector): void {
  const [f, fl] = factor;
  let t = SPLITTER * f;
  const f1 = t - (t - f);
  const f2 = f - f1;
  const { hi: xh, lo: xl } = x;
  const { hi: yh, lo: yl } = y;
  for (let i = 0; i < xh.length; i += 1) {
    const b = xh[i];
    const p = f * b;
    t = SPLITTER * b;
    const b1 = t - (t - b);
    const b2 = b - b1;
    const e = f1 * b1 - p + f1 * b2 + f2 * b1 + f2 * b2 + (f * xl[i] + fl * b);
    const a = yh[i];
    const s = a + p;
    const v = s - a;
    const rest = a - (s - v) + (p - v) + (yl[i] + e);
    const sum = s + rest;
    yh[i] = sum;
    yl[i] = rest - (sum - s);
  }
}

/** x <- factor·x */
export function ddScale(x: DdVector, factor: Dd): void {
  for (let i = 0; i < x.hi.length; i += 1) {
    const [hi, lo] = ddMultiply([x.hi[i], x.lo[i]], factor);
    x.hi[i] = hi;
    x.lo[i] = lo;
  }
}

import { incompleteBeta, logGamma } from './special.js';

/** P(|T| > t) of Student's t; `dof` > 0, need not be whole. */
export function studentTwoSided(t: number, dof: number): number {
  const square = t * t;
  if (!Number.isFinite(square)) return 0;
  if (!Number.isFinite(dof)) return studentTwoSided(t, 1e9);
  return incompleteBeta(dof / (dof + square), dof / 2, 0.5);
}

/** P(F > f) of Fisher's F. */
export function fisherUpper(f: number, dofAbove: number, dofBelow: number): number {
  if (!(f > 0)) return 1;
  if (!Number.isFinite(f)) return 0;
  return incompleteBeta(dofBelow / (dofBelow + dofAbove * f), dofBelow / 2, dofAbove / 2);
}

/**
 * The t that |T| exceeds with the given probability: `studentQuantile(0.05, 9)` is 2.262, the factor of a 95 % interval.
 * Newton steps on the logarithm of the tail, kept inside a bracket; 12 digits.
 *
 * @param twoSided - probability of both tails together, 0 < twoSided < 1
 * @param dof - degrees of freedom > 0, need not be whole; infinite is the normal distribution
 */
export function studentQuantile(twoSided: number, dof: number): number {
  const freedom = Number.isFinite(dof) ? dof : 1e9;
  let low = 0;
  let high = 1;
  while (studentTwoSided(high, freedom) > twoSided) {
    low = high;
    high *= 2;
  }
  const logDensity = (t: number): number =>
    logGamma((freedom + 1) / 2) -
    logGamma(freedom / 2) -
    0.5 * Math.log(freedom * Math.PI) -
    ((freedom + 1) / 2) * Math.log1p((t * t) / freedom);
  let t = (low + high) / 2;
  for (let step = 0; step < 200; step += 1) {
    const tail = studentTwoSided(t, freedom);
    if (tail > twoSided) low = t;
    else high = t;
    const slope = (2 * Math.exp(logDensity(t))) / tail;
    let next = t + Math.log(tail / twoSided) / slope;
    if (!(next > low && next < high)) next = (low + high) / 2;
    if (Math.abs(next - t) <= 1e-15 * next) return next;
    t = next;
  }
  return t;
}

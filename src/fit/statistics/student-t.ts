import { twoSidedNormalP } from './normal-tail.js';
import { incompleteBeta, logGamma } from './special.js';

/** The chance of a test, as it is printed. */
export const chanceWords = (p: number): string => (p < 0.0001 ? 'p < 0.0001' : `p = ${p.toPrecision(2)}`);

/** From here on Student's t is the normal distribution to seven digits, and the incomplete beta function loses as many. */
const NEARLY_NORMAL = 1e7;

/** P(|T| > t) of Student's t; `dof` > 0, need not be whole. */
export function studentTwoSided(t: number, dof: number): number {
  const square = t * t;
  if (!Number.isFinite(square)) return 0;
  if (dof > NEARLY_NORMAL) return twoSidedNormalP(t);
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
  let low = 0;
  let high = 1;
  while (studentTwoSided(high, dof) > twoSided) {
    low = high;
    high *= 2;
  }
  let t = (low + high) / 2;
  for (let step = 0; step < 200; step += 1) {
    const tail = studentTwoSided(t, dof);
    if (tail > twoSided) low = t;
    else high = t;
    const slope = (2 * density(t, dof)) / tail;
    let next = t + Math.log(tail / twoSided) / slope;
    if (!(next > low && next < high)) next = (low + high) / 2;
    if (Math.abs(next - t) <= 1e-15 * next) return next;
    t = next;
  }
  return t;
}

function density(t: number, dof: number): number {
  if (dof > NEARLY_NORMAL) return Math.exp(-0.5 * t * t) / Math.sqrt(2 * Math.PI);
  const front = logGamma((dof + 1) / 2) - logGamma(dof / 2) - 0.5 * Math.log(dof * Math.PI);
  return Math.exp(front - ((dof + 1) / 2) * Math.log1p((t * t) / dof));
}

/** The chance of a test, as it is printed. */
export const chanceWords = (p: number): string => (p < 0.0001 ? 'p < 0.0001' : `p = ${p.toPrecision(2)}`);

/** From here on Student's t is the normal distribution to seven digits, and the incomplete beta function loses as many. */
const NEARLY_NORMAL = 1e7;

/** P(|T| > t) of Student's t; `dof` > 0, need not be whole. */
export function studentTwoSided(t: number, dof: number): number {
  const square = t * t;
  if (dof > NEARLY_NORMAL) return twoSidedNormalP(t);
  return incompleteBeta(dof / (dof + square), dof / 2, 0.5);
}

/** P(F > f) of Fisher's F. */
export function fisherUpper(f: number, dofAbove: number, dofBelow: number): number {
  if (!(f > 0)) return 1;
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
  if (dof > NEARLY_NORMAL) return normalDensity(t);
  const front = logGamma((dof + 1) / 2) - logGamma(dof / 2) - 0.5 * Math.log(dof * Math.PI);
  return Math.exp(front - ((dof + 1) / 2) * Math.log1p((t * t) / dof));
}

/** Density of the standard normal distribution. */
function normalDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}

/**
 * P(Z > z) of the standard normal distribution, z >= 0, to about 14 digits also far out in the tail.
 * Method: power series below 2.5 (Marsaglia, Journal of Statistical Software 11(4), 2004, eq. 3), above it the
 * continued fraction of Abramowitz and Stegun 26.2.14, evaluated from the inside out.
 */
function normalUpperTail(z: number): number {
  if (z < 2.5) {
    let term = z;
    let sum = z;
    for (let k = 3; Math.abs(term) > 1e-18 * Math.abs(sum); k += 2) {
      term *= (z * z) / k;
      sum += term;
    }
    return 0.5 - normalDensity(z) * sum;
  }
  let fraction = z;
  for (let k = 160; k >= 1; k--) fraction = z + k / fraction;
  return normalDensity(z) / fraction;
}

/** P(|Z| > |z|): the two-sided p value of a z ratio. */
export function twoSidedNormalP(z: number): number {
  return 2 * normalUpperTail(Math.abs(z));
}

/** 1/(1 + e^−η) with no loss for either sign. */
export function expit(eta: number): number {
  return eta >= 0 ? 1 / (1 + Math.exp(-eta)) : Math.exp(eta) / (1 + Math.exp(eta));
}

/** ln Γ(x) for x > 0. Lanczos' series, g = 7 with nine terms: 15 digits. Source: C. Lanczos, SIAM J. Numer. Anal. B 1 (1964), 86-96. */
function logGamma(x: number): number {
  if (x < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * x)) - logGamma(1 - x);
  const z = x - 1;
  let sum = LANCZOS[0];
  for (let i = 1; i < LANCZOS.length; i += 1) sum += LANCZOS[i] / (z + i);
  const t = z + 7.5;
  return 0.5 * Math.log(2 * Math.PI) + (z + 0.5) * Math.log(t) - t + Math.log(sum);
}

const LANCZOS = [
  0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
  12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
];

/**
 * Regularised incomplete beta function I_x(a, b), by its continued fraction.
 * Source: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions (1964), 26.5.8; evaluated as by W. J. Lentz (1976).
 */
function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a);
  const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log1p(-x)) / a;
  const tiny = 1e-300;
  let c = 1;
  let d = 1 - ((a + b) * x) / (a + 1);
  d = 1 / (Math.abs(d) < tiny ? tiny : d);
  let fraction = d;
  for (let m = 1; m <= 5000; m += 1) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    for (const term of [even, odd]) {
      d = 1 + term * d;
      d = 1 / (Math.abs(d) < tiny ? tiny : d);
      c = 1 + term / c;
      if (Math.abs(c) < tiny) c = tiny;
      fraction *= d * c;
    }
    if (Math.abs(d * c - 1) < 1e-16) break;
  }
  return front * fraction;
}

const STEP = 0.004;
/** Beyond this the tail nears the smallest double. */
const HIGHEST = 36;

let table: Float64Array | undefined;

/** P(Z > z) from a table, z >= 0: five digits, in a few nanoseconds. */
function tail(z: number): number {
  if (z >= HIGHEST - STEP) return 0;
  if (!table)
    table = Float64Array.from({ length: Math.round(HIGHEST / STEP) + 1 }, (_, i) => normalUpperTail(i * STEP));
  const place = z / STEP;
  const i = Math.floor(place);
  return table[i] + (place - i) * (table[i + 1] - table[i]);
}

/** P(low < Z < high) of the standard normal distribution; to digits of its own where both lie far out on one side. */
function normalInterval(low: number, high: number): number {
  if (low > 0) return tail(low) - tail(high);
  if (high < 0) return tail(-high) - tail(-low);
  return 1 - tail(-low) - tail(high);
}

/** ln P(Z > z), z > 0, by its leading term: where all that counts is which of two unlikely things is less so. */
const logFarTail = (z: number): number => -0.5 * z * z - Math.log(z) - 0.9189385332046727;

/** Factors that are multiplied before a logarithm is taken, which costs more than they do. */
const LEAST_PRODUCT = 1e-150;

/**
 * Logarithm of the chance that values scattered normally about some places all come out within ± half of them.
 *
 * @param off - how far each value lies from its place, of which `members` count; in the unit of `half` and `sd`
 */
export function logWithin(off: Float64Array, members: readonly number[], half: number, sd: number): number {
  let sum = 0;
  let product = 1;
  for (let m = 0; m < members.length; m += 1) {
    const e = off[members[m]];
    const chance = normalInterval((e - half) / sd, (e + half) / sd);
    if (chance < LEAST_PRODUCT) {
      sum += logFarTail((Math.abs(e) - half) / sd);
      continue;
    }
    product *= chance;
    if (product < LEAST_PRODUCT) {
      sum += Math.log(product);
      product = 1;
    }
  }
  return sum + Math.log(product);
}

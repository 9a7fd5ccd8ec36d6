/** Density of the standard normal distribution. */
function density(z: number): number {
  return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}

/**
 * P(Z > z) of the standard normal distribution, to about 14 digits also far out in the tail.
 * Method: power series below 2.5 (Marsaglia, Journal of Statistical Software 11(4), 2004, eq. 3), above it the
 * continued fraction of Abramowitz and Stegun 26.2.14, evaluated from the inside out.
 */
export function normalUpperTail(z: number): number {
  if (z < 0) return 1 - normalUpperTail(-z);
  if (z < 2.5) {
    let term = z;
    let sum = z;
    for (let k = 3; Math.abs(term) > 1e-18 * Math.abs(sum); k += 2) {
      term *= (z * z) / k;
      sum += term;
    }
    return 0.5 - density(z) * sum;
  }
  let fraction = z;
  for (let k = 160; k >= 1; k--) fraction = z + k / fraction;
  return density(z) / fraction;
}

/** P(|Z| > |z|): the two-sided p value of a z ratio. */
export function twoSidedNormalP(z: number): number {
  return 2 * normalUpperTail(Math.abs(z));
}

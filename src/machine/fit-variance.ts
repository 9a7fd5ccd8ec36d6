import { PARAMETER_NAMES, type ProfileFit } from './types.js';

/**
 * Variance of Σ gradient · number, by the law of propagation; infinite when an assumed number takes part, since nobody
 * knows how far off that is.
 *
 * @param gradient - by the five numbers in the order of PARAMETER_NAMES
 * Source: JCGM 100:2008 (GUM), 5.2.2 equation (13).
 */
export function fitVariance(fit: ProfileFit, gradient: ArrayLike<number>): number {
  const moving = PARAMETER_NAMES.map((name, k) => ({ name, k })).filter(({ k }) => gradient[k] !== 0);
  if (moving.some(({ name }) => fit[name].assumed)) return Number.POSITIVE_INFINITY;
  let sum = 0;
  for (const { k: j, name } of moving) {
    for (const { k } of moving) {
      // A profile written by hand states uncertainties at most.
      const stated = fit.covariance[j][k] || (j === k ? fit[name].stdUncertainty ** 2 : 0);
      sum += gradient[j] * gradient[k] * stated;
    }
  }
  return Math.max(0, sum);
}

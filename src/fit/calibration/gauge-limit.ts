import type { WeightedFit } from './weighted-fit.js';

/**
 * Adds what a gauge's limit of error may do: an offset common to all its readings, known only to lie within ± limit,
 * so with standard uncertainty limit/√3 (GUM, JCGM 100:2008, 4.3.7). It doesn't become smaller by reading more often.
 * Readings of one resolution count as readings of one gauge.
 */
export function withGaugeLimit(fit: WeightedFit, limitMm: number): WeightedFit {
  const { inverse } = fit.solved.qr;
  const variance = (limitMm * limitMm) / 3;
  const covariance = fit.covariance.map((row) => [...row]);
  for (const { members } of fit.groups) {
    const pull = fit.solved.columns.map((column) => members.reduce((sum, i) => sum + fit.weights[i] * column[i], 0));
    const free = inverse.map((row) => row.reduce((sum, value, j) => sum + value * pull[j], 0));
    const all = fit.model.follows.map((follow) => (typeof follow === 'number' ? free[follow] : 0));
    all.forEach((a, j) => {
      all.forEach((b, k) => {
        covariance[j][k] += variance * a * b;
      });
    });
  }
  return {
    ...fit,
    covariance,
    // Welch and Satterthwaite, GUM G.4.1: the limit counts as known.
    parameterDof: fit.parameterDof.map((dof, k) =>
      fit.covariance[k][k] > 0 ? dof * (covariance[k][k] / fit.covariance[k][k]) ** 2 : dof,
    ),
  };
}

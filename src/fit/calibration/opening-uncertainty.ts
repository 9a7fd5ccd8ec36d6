import { fitVariance } from '../../machine/fit-variance.js';
import { type Measured, PARAMETER_NAMES, type ProfileFit } from '../../machine/types.js';
import { studentQuantile } from '../statistics/student-t.js';

/** How well a corrected opening is known to come out. */
export interface OpeningUncertainty {
  readonly widthMm: number;
  readonly axis: 'x' | 'y';
  /** Infinite where scale or kerf of the axis was not measured. */
  readonly stdUncertaintyMm: number;
  /** Half-width of the 95 % interval. */
  readonly expandedUncertaintyMm: number;
}

/**
 * An opening designed `widthMm` wide and corrected with this profile comes out `widthMm` ± U: the law of propagation
 * for w = scale·c + kerf, with the covariance of scale and kerf. It is the uncertainty of the machine's mean; a single
 * cut scatters about it.
 *
 * @param axis - the one across which the width is measured
 * Source: JCGM 100:2008 (GUM), 5.2.2 equation (13), and G.3 for the factor.
 * @example openingUncertainty(profile.fit, 0.3, 'x')
 */
export function openingUncertainty(fit: ProfileFit, widthMm: number, axis: 'x' | 'y'): OpeningUncertainty {
  const scale = axis === 'x' ? fit.scaleX.value : fit.scaleY.value;
  const kerf = axis === 'x' ? fit.kerfXMm.value : fit.kerfYMm.value;
  const commandedMm = Math.max(0, widthMm - kerf) / scale;
  const gradient = axis === 'x' ? [commandedMm, 0, 0, 1, 0] : [0, commandedMm, 0, 0, 1];
  return uncertaintyOf(fit, gradient, widthMm, axis);
}

/** Two pads `distanceMm` apart along an axis come out that far ± U, corrected with this profile. */
export function distanceUncertainty(fit: ProfileFit, distanceMm: number, axis: 'x' | 'y'): OpeningUncertainty {
  const scale = axis === 'x' ? fit.scaleX.value : fit.scaleY.value;
  const commandedMm = distanceMm / scale;
  const gradient = axis === 'x' ? [commandedMm, 0, 0, 0, 0] : [0, commandedMm, 0, 0, 0];
  return uncertaintyOf(fit, gradient, distanceMm, axis);
}

function uncertaintyOf(
  fit: ProfileFit,
  gradient: readonly number[],
  widthMm: number,
  axis: 'x' | 'y',
): OpeningUncertainty {
  const stdUncertaintyMm = Math.sqrt(fitVariance(fit, gradient));
  // Each number has a factor of its own, by the gauge that tells it: weighed by what it has in the variance.
  let [weighed, total] = [0, 0];
  PARAMETER_NAMES.forEach((name, k) => {
    const own = gradient[k] ** 2 * fit[name].stdUncertainty ** 2;
    if (!(own > 0)) return;
    weighed += own * (expanded(fit[name], fit.dof) / fit[name].stdUncertainty);
    total += own;
  });
  const factor = Number.isFinite(stdUncertaintyMm) && total > 0 ? weighed / total : 1;
  return { widthMm, axis, stdUncertaintyMm, expandedUncertaintyMm: factor * stdUncertaintyMm };
}

/** Half-width of the 95 % interval; the standard uncertainty times Student's t when the interval isn't kept. */
export function expanded({ assumed, interval95, stdUncertainty }: Measured, dof: number): number {
  if (assumed) return Number.POSITIVE_INFINITY;
  if (interval95) return (interval95[1] - interval95[0]) / 2;
  return stdUncertainty * studentQuantile(0.05, dof >= 1 ? dof : Number.POSITIVE_INFINITY);
}

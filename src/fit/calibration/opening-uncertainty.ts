import type { ProfileFit } from '../../machine/types.js';
import { studentQuantile } from '../statistics/student-t.js';

/** How well a corrected opening is known to come out. */
export interface OpeningUncertainty {
  readonly widthMm: number;
  readonly axis: 'x' | 'y';
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
 */
export function openingUncertainty(fit: ProfileFit, widthMm: number, axis: 'x' | 'y'): OpeningUncertainty {
  const [s, k] = axis === 'x' ? [0, 3] : [1, 4];
  const scale = axis === 'x' ? fit.scaleX.value : fit.scaleY.value;
  const kerf = axis === 'x' ? fit.kerfXMm.value : fit.kerfYMm.value;
  const commandedMm = Math.max(0, widthMm - kerf) / scale;
  const c = fit.covariance;
  const variance = commandedMm * commandedMm * c[s][s] + 2 * commandedMm * c[s][k] + c[k][k];
  const stdUncertaintyMm = Math.sqrt(Math.max(0, variance));
  const factor = studentQuantile(0.05, fit.dof >= 1 ? fit.dof : Number.POSITIVE_INFINITY);
  return { widthMm, axis, stdUncertaintyMm, expandedUncertaintyMm: factor * stdUncertaintyMm };
}

import { distanceUncertainty, openingUncertainty } from '../../fit/calibration/opening-uncertainty.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Opening } from '../../geometry/types.js';
import type { ProfileFit } from '../../machine/types.js';

/** How sure the profile itself is, 95 %: a prediction can't be truer. Infinite where a number was assumed. */
export interface Certainty {
  readonly axis: 'x' | 'y';
  /** Size of the stencil along the axis, and how far off it may come out, mm. */
  readonly lengthMm: number;
  readonly lengthUncertaintyMm: number;
  /** How far off the width of every opening may come out, mm. */
  readonly widthUncertaintyMm: number;
}

export function certaintyOf(fit: ProfileFit, asked: readonly Opening[]): Certainty[] {
  const box = boundsOf(asked) ?? { minX: 0, minY: 0, maxX: 0, maxY: 0 };
  return (['x', 'y'] as const).map((axis) => {
    const lengthMm = axis === 'x' ? box.maxX - box.minX : box.maxY - box.minY;
    return {
      axis,
      lengthMm,
      lengthUncertaintyMm: distanceUncertainty(fit, lengthMm, axis).expandedUncertaintyMm,
      widthUncertaintyMm: openingUncertainty(fit, 0, axis).expandedUncertaintyMm,
    };
  });
}

/** One sentence for both axes. */
export function certaintyWords(certainty: readonly Certainty[]): string {
  const um = (mm: number): string =>
    mm === 0 ? 'not stated' : Number.isFinite(mm) ? `± ${(1000 * mm).toFixed(1)} µm` : 'unknown';
  const parts = certainty.map(
    ({ axis, lengthMm, lengthUncertaintyMm, widthUncertaintyMm }) =>
      `across ${axis.toUpperCase()} widths ${um(widthUncertaintyMm)}, places over ${lengthMm.toFixed(0)} mm ${um(lengthUncertaintyMm)}`,
  );
  return `  The profile itself is that sure (95 %), and no figure above is surer: ${parts.join('; ')}.\n`;
}

import { distanceUncertainty, openingUncertainty } from '../../fit/calibration/opening-uncertainty.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Opening } from '../../geometry/types.js';
import { fieldUncertainty } from '../../machine/place-field.js';
import type { PlaceField, ProfileFit } from '../../machine/types.js';

/** How sure the profile itself is, 95 %: a prediction can't be truer. Infinite where a number was assumed. */
export interface Certainty {
  readonly axis: 'x' | 'y';
  /** Size of the stencil along the axis, and how far off it may come out, mm. */
  readonly lengthMm: number;
  readonly lengthUncertaintyMm: number;
  /** How far off the width of every opening may come out, mm. */
  readonly widthUncertaintyMm: number;
}

export function certaintyOf(fit: ProfileFit, asked: readonly Opening[], field?: PlaceField): Certainty[] {
  const bends = field ? Math.SQRT2 * TWO_SIGMA * worstOf(field) : 0;
  const box = boundsOf(asked) ?? { minX: 0, minY: 0, maxX: 0, maxY: 0 };
  return (['x', 'y'] as const).map((axis) => {
    const lengthMm = axis === 'x' ? box.maxX - box.minX : box.maxY - box.minY;
    return {
      axis,
      lengthMm,
      lengthUncertaintyMm: Math.hypot(distanceUncertainty(fit, lengthMm, axis).expandedUncertaintyMm, bends),
      widthUncertaintyMm: openingUncertainty(fit, 0, axis).expandedUncertaintyMm,
    };
  });
}

/** A normal error lies within so many standard deviations 95 % of the time. */
const TWO_SIGMA = 1.96;

/** The largest uncertainty of a place that the bends bring, looked at along the border and in the middle, mm. */
function worstOf(field: PlaceField): number {
  const [x0, y0, x1, y1] = field.areaMm;
  const shares = [0, 0.25, 0.5, 0.75, 1];
  const places = shares.flatMap((u) => shares.map((v) => [x0 + u * (x1 - x0), y0 + v * (y1 - y0)] as const));
  return Math.max(...places.map((at) => fieldUncertainty(field, at)));
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

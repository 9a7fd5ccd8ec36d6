import type { ReadingResidual } from '../../fit/calibration/index.js';
import type { ReadingSession } from '../../machine/types.js';

/** One reading as the plots need it: what was measured, where, and what the fit leaves of it. */
export interface PlottedReading {
  readonly feature: string;
  readonly kind: 'span' | 'opening' | 'web';
  readonly from: readonly [number, number];
  readonly to: readonly [number, number];
  readonly nominalMm: number;
  readonly readingMm: number;
  readonly residualMm: number;
  /** Larger than chance allows; drawn with its name. */
  readonly standsOut: boolean;
}

/**
 * Joins the residuals of a fit to the features they were read from. Vernier readings, which are line numbers, are left out.
 *
 * @param standsOut - which readings to name in the plots
 */
export function plottedReadings(
  residuals: readonly ReadingResidual[],
  sessions: readonly ReadingSession[],
  standsOut: (residual: ReadingResidual) => boolean = () => false,
): PlottedReading[] {
  const places = sessions.map((session) => new Map(session.features.map((feature) => [feature.id, feature])));
  return residuals.flatMap((residual) => {
    const feature = places[residual.session]?.get(residual.feature);
    if (!feature || feature.kind === 'cell' || feature.kind === 'vernier') return [];
    return [
      {
        feature: residual.feature,
        kind: feature.kind,
        from: feature.from,
        to: feature.to,
        nominalMm: feature.nominalMm,
        readingMm: residual.readingMm,
        residualMm: residual.residualMm,
        standsOut: standsOut(residual),
      },
    ];
  });
}

/** How the measured length lies, by the direction from edge to edge. */
export type Direction = 'along X' | 'along Y' | 'rising diagonal' | 'falling diagonal';

export function directionOf(reading: Pick<PlottedReading, 'from' | 'to'>): Direction {
  const dx = reading.to[0] - reading.from[0];
  const dy = reading.to[1] - reading.from[1];
  if (Math.abs(dy) < 1e-6 * Math.abs(dx)) return 'along X';
  if (Math.abs(dx) < 1e-6 * Math.abs(dy)) return 'along Y';
  return dx * dy > 0 ? 'rising diagonal' : 'falling diagonal';
}

/** Names to write into a plot; those of points near each other share one label. */
export function joinedNames<T extends { readonly name: string }>(
  points: readonly T[],
  isNear: (a: T, b: T) => boolean,
): T[] {
  const joined: T[] = [];
  for (const point of points.filter(({ name }) => name !== '')) {
    const k = joined.findIndex((other) => isNear(other, point));
    if (k < 0) joined.push(point);
    else joined[k] = { ...joined[k], name: `${joined[k].name}, ${point.name}` };
  }
  return joined;
}

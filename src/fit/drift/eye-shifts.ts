import type { ProfileFit, ReadingSession } from '../../machine/types.js';
import { type EyeReadings, eyeReadings } from '../calibration/eye-only.js';
import { gatherObservations } from '../calibration/observations.js';

/** What eyes saw on the new films against what the older ones showed. */
export interface EyeShift {
  /** More than a step of the ladder lies between: no machine that stayed the same. */
  readonly changed: boolean;
  readonly say: string;
}

/** The kerf of one day scatters by about this much: bounds that lie no further apart are one bound. */
const TOUCH_MM = 0.005;

/** Webs that burnt away or stand hold the kerf between two widths: where those of new films and old ones don't overlap. */
export function eyeShifts(
  older: readonly ReadingSession[],
  fresh: readonly ReadingSession[],
  fit: ProfileFit,
): EyeShift[] {
  const bracketsOf = (sessions: readonly ReadingSession[]): EyeReadings['brackets'] =>
    eyeReadings(gatherObservations(sessions), sessions, fit.scaleX.value).brackets;
  const now = bracketsOf(fresh);
  const before = now.length > 0 ? bracketsOf(older) : [];
  return now.flatMap(({ axis, lowMm, highMm }): EyeShift[] => {
    const { interval95, assumed } = axis === 'x' ? fit.kerfXMm : fit.kerfYMm;
    const known = before.find((bracket) => bracket.axis === axis);
    const [low, high] = known ? [known.lowMm, known.highMm] : (interval95 ?? []);
    if (low === undefined || high === undefined || assumed || (lowMm < high - TOUCH_MM && highMm > low + TOUCH_MM))
      return [];
    const words = `By eye the kerf across ${axis.toUpperCase()} is between ${lowMm.toFixed(3)} and ${highMm.toFixed(3)} mm now, and was between ${low.toFixed(3)} and ${high.toFixed(3)} mm before`;
    const changed = lowMm > high + TOUCH_MM || highMm < low - TOUCH_MM;
    return [{ changed, say: changed ? `${words}.` : `${words}: it lies near the bound, or has changed.` }];
  });
}

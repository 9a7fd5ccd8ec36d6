import type { DimensionalFeature } from '../../coupon/features.js';
import { InputError } from '../../errors.js';
import { type CalibrationResult, fitSessions } from '../../fit/calibration/index.js';
import type { ParameterName, ReadingSession } from '../../machine/types.js';
import { expanded } from '../fit/words.js';

/** Enough for a stencil: 0.02 mm over 100 mm, and openings to 0.01 mm (95 %). */
const SCALE_ENOUGH = 2e-4;
const KERF_ENOUGH_MM = 0.01;

/** Few readings agree by chance. */
const FEWEST_SPARE = 4;

export interface Sureness {
  readonly result: CalibrationResult;
  readonly words: string;
  readonly isEnough: boolean;
  /** Whether the readings say how long a feature is: what was never read across its direction is only taken. */
  isKnown(feature: DimensionalFeature): boolean;
}

/** How sure scale and kerf are by now; undefined while the readings say nothing yet. */
export function surenessOf(sessions: readonly ReadingSession[]): Sureness | undefined {
  let result: CalibrationResult;
  try {
    result = fitSessions(sessions);
  } catch (error) {
    if (error instanceof InputError) return undefined;
    throw error;
  }
  const { fit } = result;
  if (fit.dof < 1) return undefined;
  const lengths = sessions.flatMap(readLengths);
  const uncertainty = (name: ParameterName): number | undefined => {
    const axis = name.startsWith('scale') ? name.slice(-1) : name.charAt(4);
    const isKerf = name.startsWith('kerf');
    // The fit shares what was never read across the other axis; here it is open.
    const wasRead = lengths.some((one) => isAlong(one, axis) && (!isKerf || one.kind !== 'span'));
    return fit[name].assumed || !wasRead ? undefined : expanded(fit[name], fit.dof);
  };
  const [scaleX, scaleY, kerfX, kerfY] = (['scaleX', 'scaleY', 'kerfXMm', 'kerfYMm'] as const).map(uncertainty);
  const say = (value: number | undefined, by: number): string =>
    value === undefined ? 'open' : `± ${(value * by).toFixed(3)} mm`;
  const words = `100 mm along X ${say(scaleX, 100)}, Y ${say(scaleY, 100)}; kerf across X ${say(kerfX, 1)}, Y ${say(kerfY, 1)}`;
  // What no coupon here can tell is for another one.
  const kinds = new Set(sessions.flatMap(({ features }) => features.map(({ kind }) => kind)));
  const needed = [
    ...(kinds.has('span') ? [scaleX, scaleY].map((u) => (u ?? 1) / SCALE_ENOUGH) : []),
    ...(kinds.has('opening') || kinds.has('web') ? [kerfX, kerfY].map((u) => (u ?? 1) / KERF_ENOUGH_MM) : []),
  ];
  const isKnown = (one: DimensionalFeature): boolean => {
    const [x, y] = [isAlong(one, 'X'), isAlong(one, 'Y')];
    if (x && y && fit.shear.assumed) return false;
    const wanted = one.kind === 'span' ? [x && [scaleX], y && [scaleY]] : [x && [scaleX, kerfX], y && [scaleY, kerfY]];
    return wanted.every((of) => of === false || of.every((u) => u !== undefined));
  };
  return {
    result,
    words,
    isKnown,
    isEnough: fit.dof >= FEWEST_SPARE && needed.length > 0 && needed.every((share) => share <= 1),
  };
}

function readLengths({ features, readings }: ReadingSession): DimensionalFeature[] {
  const read = new Set(readings.filter(({ readingMm }) => readingMm !== undefined).map(({ feature }) => feature));
  return features.filter((one): one is DimensionalFeature => 'nominalMm' in one && read.has(one.id));
}

/** Whether a length says something about an axis: slanted ones do about both. */
function isAlong({ from, to }: DimensionalFeature, axis: string): boolean {
  return axis === 'X' ? from[0] !== to[0] : from[1] !== to[1];
}

import type { DimensionalFeature } from '../../coupon/features.js';
import { InputError } from '../../errors.js';
import { fitSessions } from '../../fit/calibration/fit-sessions.js';
import { expanded } from '../../fit/calibration/profile-fit.js';
import type { CalibrationResult } from '../../fit/calibration/types.js';
import { gaugeSoFar, NOISE_SPARE, type ReadWith } from '../../fit/plan/coupon-order.js';
import { lengthsThere, planReadings, type ReadingPlan, USUAL_TARGETS } from '../../fit/plan/plan-readings.js';
import { targetWords } from '../../fit/plan/plan-words.js';
import type { ParameterName, ReadingSession } from '../../machine/types.js';

/** Few readings agree by chance. */
const FEWEST_SPARE = 4;

export interface Sureness {
  readonly result: CalibrationResult;
  readonly words: string;
  /** How many more readings it takes, or that it is enough; empty where there is nothing to plan. */
  readonly ahead: string;
  /** Whether that is that nothing more is needed, or can be told. */
  readonly isDone: boolean;
  /** Whether the readings say how long a feature is: what was never read across its direction is only taken. */
  isKnown(feature: DimensionalFeature): boolean;
}

/**
 * How sure scale, squareness and kerf are by now; undefined while the readings say nothing yet.
 *
 * @param own - the coupon that is being read
 * @param others - read before; they count, but what they lack is theirs to tell
 * @param taken - what the lengths are read with, where that is known
 */
export function surenessOf(
  own: ReadingSession,
  others: readonly ReadingSession[],
  taken?: ReadWith,
): Sureness | undefined {
  const sessions = [...others, own];
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
    const isKerf = name.startsWith('kerf');
    const axes = name === 'shear' ? ['X', 'Y'] : [isKerf ? name.charAt(4) : name.slice(-1)];
    // The fit shares what was never read across the other axis; here it is open.
    const wasRead = lengths.some((one) => axes.every((axis) => isAlong(one, axis)) && (!isKerf || one.kind !== 'span'));
    return fit[name].assumed || !wasRead ? undefined : expanded(fit[name], fit.dof);
  };
  const [scaleX, scaleY, kerfX, kerfY] = (['scaleX', 'scaleY', 'kerfXMm', 'kerfYMm'] as const).map(uncertainty);
  const already = readLengths(own);
  const plan = planReadings(lengthsThere(own), { gauge: gaugeSoFar(fit, already, taken), already });
  const isEnough =
    fit.dof >= FEWEST_SPARE &&
    plan.determined.length > 0 &&
    plan.determined.every((name) => (uncertainty(name) ?? Number.POSITIVE_INFINITY) <= USUAL_TARGETS[name]);
  const isKnown = (one: DimensionalFeature): boolean => {
    const [x, y] = [isAlong(one, 'X'), isAlong(one, 'Y')];
    if (x && y && fit.shear.assumed) return false;
    const wanted = one.kind === 'span' ? [x && [scaleX], y && [scaleY]] : [x && [scaleX, kerfX], y && [scaleY, kerfY]];
    return wanted.every((of) => of === false || of.every((u) => u !== undefined));
  };
  // The scatter is averaged away, and the limit of error of the gauge is not.
  const isAll = !isEnough && fit.dof >= NOISE_SPARE && plan.first === 0;
  const ahead = aheadWords(plan, isEnough, isAll);
  return { result, words: wordsOf(sessions, uncertainty), ahead, isDone: isEnough || isAll, isKnown };
}

/** Only what the coupons that were read can tell. */
function wordsOf(
  sessions: readonly ReadingSession[],
  uncertainty: (name: ParameterName) => number | undefined,
): string {
  const say = (name: ParameterName, by: number): string => {
    const value = uncertainty(name);
    return value === undefined ? 'open' : `± ${(value * by).toFixed(3)} mm`;
  };
  const kinds = new Set(sessions.flatMap(({ features }) => features.map(({ kind }) => kind)));
  const words = [
    ...(kinds.has('span')
      ? [
          `100 mm along X ${say('scaleX', 100)}, Y ${say('scaleY', 100)}, lean of a 100 mm vertical ${say('shear', 100)}`,
        ]
      : []),
    ...(kinds.has('opening') || kinds.has('web') ? [`kerf across X ${say('kerfXMm', 1)}, Y ${say('kerfYMm', 1)}`] : []),
  ];
  return words.join('; ');
}

/** How far it is to enough, by the plan of reading that `fit` and the worksheet have too. */
function aheadWords({ determined, first, reaches }: ReadingPlan, isEnough: boolean, isAll: boolean): string {
  if (determined.length === 0) return '';
  const aim = targetWords(determined);
  if (isEnough) return `That is enough for ${aim}. q ends here; more readings make it surer.`;
  if (isAll) return 'That is about all that this gauge can tell: what is left is its own error. q ends here.';
  return reaches ? `about ${Math.max(1, first)} more for ${aim}` : `more than this coupon holds for ${aim}`;
}

function readLengths({ features, readings }: ReadingSession): DimensionalFeature[] {
  const read = new Set(readings.filter(({ readingMm }) => readingMm !== undefined).map(({ feature }) => feature));
  return features.filter((one): one is DimensionalFeature => 'nominalMm' in one && read.has(one.id));
}

/** Whether a length says something about an axis: slanted ones do about both. */
function isAlong({ from, to }: DimensionalFeature, axis: string): boolean {
  return axis === 'X' ? from[0] !== to[0] : from[1] !== to[1];
}

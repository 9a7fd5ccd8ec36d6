import type { DimensionalFeature } from '../../coupon/features.js';
import { InputError } from '../../errors.js';
import { fitSessions } from '../../fit/calibration/fit-sessions.js';
import { lengthsReadIn } from '../../fit/calibration/gauges.js';
import { expanded } from '../../fit/calibration/profile-fit.js';
import type { CalibrationResult } from '../../fit/calibration/types.js';
import { lengthsThere, MOST_FIRST, planReadings, type ReadingPlan } from '../../fit/plan/plan-readings.js';
import {
  BY_CHANCE,
  gaugeSoFar,
  likelyWider,
  type ReadWith,
  scatterOf,
  sureWords,
  targetWords,
  verdictOn,
} from '../../fit/plan/plan-words.js';
import { byParameter, PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { KNOWN_WITHIN } from '../../readings/question-reading.js';
import { heldByLimit } from '../fit/tell.js';

export type Sureness = NonNullable<ReturnType<typeof surenessOf>>;

/**
 * How sure scale, squareness and kerf are by now; undefined while the readings say nothing yet.
 *
 * @param own - the coupon that is being read
 * @param others - read before; they count, but what they lack is theirs to tell
 * @param taken - what the lengths are read with, where that is known
 */
export function surenessOf(own: ReadingSession, others: readonly ReadingSession[], taken?: ReadWith) {
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
  const [scaleX, scaleY, shear, kerfX, kerfY] = PARAMETER_NAMES.map(uncertainty);
  const already = readLengths(own);
  // Another gauge that other coupons were read with scatters as it does.
  const { sdMm: residualSdMm, readings: dof } = scatterOf(result.scatter, lengthsReadIn(own));
  const gauge = gaugeSoFar({ dof, residualSdMm }, already, taken);
  const plan = planReadings(lengthsThere(own), { gauge, already });
  const reached = byParameter(uncertainty);
  const wider = likelyWider(result, sessions);
  const likely = byParameter((name) => reached[name] && reached[name] * wider[name]);
  const verdict = plan.determined.length > 0 ? verdictOn(plan.determined, likely) : 'not yet';
  const isKnown = (one: DimensionalFeature): boolean => {
    const [x, y] = [isAlong(one, 'X'), isAlong(one, 'Y')];
    const known = (u: number | undefined, within: number): boolean => u !== undefined && u <= within;
    const { share, kerfMm } = KNOWN_WITHIN;
    if (x && y && !known(shear, share)) return false;
    const isSpan = one.kind === 'span';
    if (x && !(known(scaleX, share) && (isSpan || known(kerfX, kerfMm)))) return false;
    return !y || (known(scaleY, share) && (isSpan || known(kerfY, kerfMm)));
  };
  // The scatter is averaged away, and the limit of error of a gauge is not.
  const held = heldByLimit(result.gauges, sessions, likely);
  const missing = plan.determined.filter((name) => verdictOn([name], likely) !== 'enough');
  const isAll = missing.length > 0 && missing.every((name) => held[name] !== undefined);
  const byChance = verdict !== 'enough' && verdictOn(plan.determined, reached) === 'enough';
  // A coarse gauge is averaged for long, and reaches nothing: nobody reads a hundred widths for half as sure a kerf.
  const isMost =
    verdict === 'not yet' && plan.needs === undefined && (already.length >= MOST_FIRST || plan.first === 0);
  const said = isWitness(own, others)
    ? ofWitness(own)
    : {
        verdict,
        isDone: isAll || isMost || verdict === 'enough',
        ahead: isAll ? ALL_THERE_IS : isMost ? mostWords(plan) : aheadWords(plan, verdict, byChance),
      };
  return { result, words: wordsOf(sessions, uncertainty), ...said, isKnown };
}

/** A piece this much smaller than a coupon beside it is there to show changes, not to tell numbers anew. */
const SMALL_PIECE = 0.25;

const isWitness = ({ canvas: own }: ReadingSession, others: readonly ReadingSession[]): boolean =>
  others.some(({ canvas }) => own && canvas && own.widthMm < SMALL_PIECE * canvas.widthMm);

/** The numbers are known well enough from the coupons; whether they have changed, only readings of this piece can show. */
function ofWitness(own: ReadingSession) {
  const read = new Set(own.readings.map(({ feature }) => feature));
  const left = lengthsThere(own).filter(({ id }) => !read.has(id)).length;
  return left > 0
    ? { verdict: 'not yet', isDone: false, ahead: `${left} more: a change shows in all of a small piece together` }
    : { verdict: 'enough', isDone: true, ahead: 'That is all of this piece.' };
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

const ALL_THERE_IS = 'That is about all that this gauge can tell: what is left is its own error. q ends here.';

/** What the whole coupon would bring where even that is not enough. */
function mostWords({ determined, order, sure }: ReadingPlan): string {
  const least = order.at(sure - 1)?.reached;
  const all = least && determined.filter((name) => verdictOn([name], least) !== 'enough').map((name) => sureWords(name, least[name])); // biome-ignore format: one thought
  const bring = all && sure > 0 ? `: the other ${sure} would bring ${all.join(', ')}, and a finer gauge more` : '';
  return `That is most of what this gauge can tell${bring}. q ends here.`;
}

/** How far it is to enough, by the plan of reading that `fit` and the worksheet have too. */
function aheadWords(
  { determined, first, needs }: ReadingPlan,
  verdict: ReturnType<typeof verdictOn>,
  byChance: boolean,
): string {
  if (determined.length === 0) return '';
  const aim = targetWords(determined);
  if (verdict === 'enough') return `That is enough for ${aim}. q ends here; more readings make it surer.`;
  const why = byChance ? `: ${BY_CHANCE}` : '';
  const more = `about ${Math.max(1, first, needs ?? 0)} more`;
  if (verdict === 'nearly') return `nearly enough for ${aim}, ${more}${why}`;
  return needs === undefined
    ? `${more} tell most of what this gauge can; for ${aim} it takes a finer one`
    : `${more} for ${aim}${why}`;
}

function readLengths({ features, readings }: ReadingSession): DimensionalFeature[] {
  const read = new Set(readings.filter(({ readingMm }) => readingMm !== undefined).map(({ feature }) => feature));
  return features.filter((one): one is DimensionalFeature => 'nominalMm' in one && read.has(one.id));
}

/** Whether a length says something about an axis: slanted ones do about both. */
function isAlong({ from, to }: DimensionalFeature, axis: string): boolean {
  return axis === 'X' ? from[0] !== to[0] : from[1] !== to[1];
}

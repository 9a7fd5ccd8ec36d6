import type { DimensionalFeature } from '../../coupon/features.js';
import { unlessRefused } from '../../errors.js';
import { fitSessions } from '../../fit/calibration/fit-sessions.js';
import { expanded } from '../../fit/calibration/profile-fit.js';
import { type Outlook, outlookOf } from '../../fit/plan/outlook.js';
import { lengthsThere, MOST_FIRST } from '../../fit/plan/plan-readings.js';
import { BY_CHANCE, missingIn, type ReadWith, sureWords, targetWords, verdictOn } from '../../fit/plan/plan-words.js';
import { present } from '../../kept.js';
import { byParameter, PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import { KNOWN_WITHIN } from '../../readings/question-reading.js';

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
  const result = unlessRefused(() => fitSessions(sessions));
  if (!result || result.fit.dof < 1) return undefined;
  const { fit } = result;
  const lengths = sessions.flatMap(readLengths);
  const uncertainty = (name: ParameterName): number | undefined => {
    const isKerf = name.startsWith('kerf');
    const axes = name === 'shear' ? ['X', 'Y'] : [isKerf ? name.charAt(4) : name.slice(-1)];
    // The fit shares what was never read across the other axis; here it is open.
    const wasRead = lengths.some((one) => axes.every((axis) => isAlong(one, axis)) && (!isKerf || one.kind !== 'span'));
    return fit[name].assumed || !wasRead ? undefined : expanded(fit[name], fit.dof);
  };
  const fitted = byParameter(uncertainty);
  const untold = PARAMETER_NAMES.filter((name) => fitted[name] === undefined);
  const outlook = outlookOf(result, sessions, { on: [own], taken, untold });
  const isKnown = (one: DimensionalFeature): boolean => {
    const known = (name: ParameterName, within: number): boolean => (fitted[name] ?? Infinity) <= within;
    const { share, kerfMm } = KNOWN_WITHIN;
    const along = (['X', 'Y'] as const).filter((axis) => isAlong(one, axis));
    const is = (axis: 'X' | 'Y'): boolean =>
      known(`scale${axis}`, share) && (one.kind === 'span' || known(`kerf${axis}Mm`, kerfMm));
    return along.every(is) && (along.length < 2 || known('shear', share));
  };
  const said = isWitness(own, others) ? ofWitness(own) : aheadOf(outlook, fitted, readLengths(own).length);
  return { result, words: wordsOf(sessions, fitted), ...said, isKnown };
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
    ? { stage: 'some more' as const, ahead: `${left} more: a change shows in all of a small piece together` }
    : { stage: 'enough' as const, ahead: 'That is all of this piece.' };
}

/** Only what the coupons that were read can tell. */
function wordsOf(sessions: readonly ReadingSession[], fitted: Outlook['reached']): string {
  const say = (name: ParameterName, by: number): string => {
    const value = fitted[name];
    return value === undefined ? 'not told yet' : `± ${(value * by).toFixed(3)} mm`;
  };
  const kinds = new Set(sessions.flatMap(({ features }) => features.map(({ kind }) => kind)));
  return present(
    kinds.has('span') &&
      `100 mm along X ${say('scaleX', 100)}, Y ${say('scaleY', 100)}, lean of a 100 mm vertical ${say('shear', 100)}`,
    (kinds.has('opening') || kinds.has('web')) && `kerf across X ${say('kerfXMm', 1)}, Y ${say('kerfYMm', 1)}`,
  ).join('; ');
}

/** How far the readings are, from nothing told yet to no more wanted; what was said of one is not said again. */
export const STAGES = ['some more', 'a few more', 'most', 'all', 'enough'] as const;
export type Stage = (typeof STAGES)[number];
export const isDone = (stage: Stage): boolean => STAGES.indexOf(stage) >= STAGES.indexOf('most');

/**
 * How far it is to enough, as `fit` sees it. In words: how many more it takes hangs on what a few readings scatter by,
 * and goes up and down with each of them.
 *
 * @param fitted - half-widths of the 95 % intervals as the readings alone give them
 */
function aheadOf(
  { reached, found, plan }: Outlook,
  fitted: Outlook['reached'],
  read: number,
): { readonly stage: Stage; readonly ahead: string } {
  const { determined } = plan;
  if (determined.length === 0) return { stage: 'some more', ahead: '' };
  const aim = targetWords(determined);
  const verdict = verdictOn(determined, reached);
  if (verdict === 'enough')
    return { stage: 'enough', ahead: `That is enough for ${aim}. q ends here; more readings make it surer.` };
  if (!found) return { stage: 'all', ahead: 'That is about all that this gauge can tell here. q ends here.' };
  const reaches = verdictOn(determined, found.most) === 'enough';
  // A coarse gauge is averaged for long, and reaches nothing: nobody reads a hundred widths for half as sure a kerf.
  const isFar = !reaches || found.count > MOST_FIRST;
  if (isFar && (read >= MOST_FIRST || plan.first === 0)) {
    const bring = missingIn(reached, determined)
      .map((name) => sureWords(name, found.most[name] ?? Number.POSITIVE_INFINITY))
      .join(', ');
    const more = reaches
      ? `about ${found.count} more would be enough for ${aim}, or a finer gauge`
      : `the ${plan.readable} that are left would bring ${bring}, and a finer gauge more`;
    return { stage: 'most', ahead: `That is most of what this gauge can tell: ${more}. q ends here.` };
  }
  const [stage, near] =
    verdict === 'nearly' ? (['a few more', 'nearly enough, '] as const) : (['some more', ''] as const);
  const why = verdictOn(determined, fitted) === 'enough' ? `: ${BY_CHANCE}` : '';
  return {
    stage,
    ahead: reaches
      ? `${near}${stage} for ${aim}${why}`
      : `${near}${stage} tell most of what this gauge can; for ${aim} it takes a finer one`,
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

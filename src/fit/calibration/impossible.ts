import { InputError, type Problem, refuseAll } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import { capProblems } from '../../readings/csv-rows.js';
import { firstOf } from '../../text.js';
import { impossibleAmong } from './agreed-scales.js';
import { canvasSentence } from './another-coupon.js';
import { type CauseContext, type CauseFound, contextOf, FACTORS, likelyCause } from './causes.js';
import { startParameters } from './design.js';
import { type Observation, placeOf } from './observations.js';
import { flagged } from './outliers.js';
import type { FlaggedReading } from './types.js';
import { wholeFileCause } from './wrong-way.js';

/** How far a right reading may lie from what the others say, when they have not been fitted yet. */
const ABOUT_MM = 0.06;
const ABOUT_SHARE = 0.004;

/**
 * Readings that can't be, whatever the machine, each with what it probably is.
 *
 * @param spared - what can't be is left out, and no reason to refuse the rest
 * @throws {InputError} READINGS_CONTRADICT when no scale is possible for most of them; READ_WRONG_WAY_ROUND when that
 *   explains readings that can't be
 */
export function impossibleReadings(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
  spared: boolean,
): FlaggedReading[] {
  if (lengths.length === 0) return [];
  const impossible = impossibleAmong(lengths);
  if (impossible?.length === 0) return [];
  const those = impossible?.map((i) => lengths[i]) ?? lengths;
  const whole = impossible && spared ? undefined : wholeFileCause(lengths, sessions, those.length);
  if (whole) throw new InputError(wrongWay(those.map(placeOf), whole));
  if (!impossible) throw new InputError(contradict(sessions));
  const out = new Set(impossible);
  const parameters = startParameters(lengths.filter((_, i) => !out.has(i)));
  // Of two rows that were swapped one may be what some machine could give.
  const context = contextOf(
    lengths,
    parameters,
    ({ resolutionMm }, mm) => ABOUT_MM + ABOUT_SHARE * Math.abs(mm) + resolutionMm,
  );
  const { predicted } = context;
  return impossible.map((i) => {
    const { cause, because: found } = causeOf(i, context);
    const because = cause === 'unclear' ? 'no machine makes that of it; measure it again' : found;
    const distance = lengths[i].valueMm < predicted[i] ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
    return flagged(lengths[i], predicted[i], 2, { cause, because, distance });
  });
}

/** Where no other reading tells the scale of its axis, a prediction may be this far off: a factor shows all the same. */
const AXIS_UNKNOWN_SHARE = 0.03;

function causeOf(i: number, context: CauseContext): CauseFound {
  const near = likelyCause(i, context);
  if (near.cause !== 'unclear') return near;
  const tolerance = context.predicted.map((mm, j) => context.tolerance[j] + AXIS_UNKNOWN_SHARE * Math.abs(mm));
  const far = likelyCause(i, { ...context, tolerance });
  return FACTORS.includes(far.cause) ? far : near;
}

/** What can't be is not averaged in: it is refused until it is corrected, or left out by name. */
export function refuseImpossible(found: readonly FlaggedReading[], sessions: readonly ReadingSession[]): void {
  const unclear = found.filter(({ cause }) => cause === 'unclear');
  const other = unclear.length < 2 ? '' : ` Several that nothing explains may be of another coupon, or of another size of it. ${canvasSentence(sessions[unclear[0].session])}`; // biome-ignore format: one thought
  const ids = [...new Set(found.map(({ feature }) => feature))].join(',');
  const hint = `Correct the file, or say --drop ${ids}, or --robust. No machine is that far from the others' readings.${other}`;
  const problems = found.map(({ sentence, file, line }, i): Problem => {
    // The last may not be told, where there are many.
    return { code: 'READING_IMPOSSIBLE', place: { file, line }, message: sentence, hint: i === 0 ? hint : undefined };
  });
  refuseAll(capProblems(problems));
}

function wrongWay(
  found: readonly Pick<FlaggedReading, 'feature' | 'file'>[],
  { say, left }: NonNullable<ReturnType<typeof wholeFileCause>>,
): Problem {
  const ids = [...new Set(found.map(({ feature }) => feature))];
  const some = firstOf(ids, 6);
  return {
    code: 'READ_WRONG_WAY_ROUND',
    place: { file: found[0].file },
    message: `${some} read${ids.length === 1 ? 's' : ''} what no machine makes of ${ids.length === 1 ? 'it' : 'them'}, but ${left === 0 ? 'all is' : `all but ${left} are`} right if ${say}.`,
    hint: 'Lay the film as the worksheet shows it, with its letters upright and readable, and read these again. If its letters can only be read mirrored, the machine mirrors: cut the coupon as the stencils will be cut.',
  };
}

const contradict = (sessions: readonly ReadingSession[]): Problem => ({
  code: 'READINGS_CONTRADICT',
  message:
    'no scale and kerf that a machine can have explain even half of these readings: they are probably of another coupon, or of another size of it, or not in mm.',
  hint: `${sessions.map(canvasSentence).join(' ')} Look at the unit and the decimal points, too.`,
});

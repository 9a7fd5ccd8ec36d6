import { InputError, type Problem, refuseAll } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import { capProblems } from '../../readings/csv-rows.js';
import { firstOf } from '../../text.js';
import { type CauseContext, type CauseFound, contextOf, FACTORS, FAR_SLIPS, likelyCause } from './causes.js';
import { startParameters } from './design.js';
import { type Observation, placeOf } from './observations.js';
import { flagged } from './outliers.js';
import type { FlaggedReading } from './types.js';
import { isOfRuler, isSpan, type LaidWrong, lengthIf, rulerRows } from './wrong-way.js';

/** Film mm per commanded mm along X and along Y. */
type Scales = readonly [x: number, y: number];

/** Shorter lengths tell no scale beside the kerf, and lie alike on every size of a coupon, mm. */
const LEAST_MM = 5;
/** Scales of a machine and a program together: from "inches taken as mm" to "mm taken as inches", with room. */
const SCALE_REACH = 60;
/** Scales of the two axes: programs take dots as square that aren't, or one axis has other steps. */
const AXES_REACH = 5;

/**
 * The scales that most readings can have, before any statistics: each that a long reading has is tried, along X and along
 * Y; of equals the one nearest to 1.
 *
 * @param fits - whether a reading can be so, by scales of its axes
 * @returns undefined when no reading fits any
 */
function agreedScales(
  lengths: readonly Observation[],
  fits: (length: Observation, scales: Scales) => boolean,
): Scales | undefined {
  const read = lengths.filter(({ kind }) => kind !== 'vernier');
  const slanted = read.filter(({ dx, dy }) => dx !== 0 && dy !== 0);
  const agreed = (own: readonly Observation[], spare: readonly number[] = []) =>
    [...new Set([1, ...ratiosOf(own), ...spare])]
      .filter((scale) => off(scale) <= Math.log(SCALE_REACH))
      .map((scale) => ({ scale, count: own.filter((one) => fits(one, [scale, scale])).length }))
      .filter(({ count }) => count > 0)
      .sort((a, b) => b.count - a.count || off(a.scale) - off(b.scale))[0];
  const [x, y] = (['dy', 'dx'] as const).map((across) => agreed(read.filter((one) => one[across] === 0), ratiosOf(slanted))); // biome-ignore format: two calls
  if (!x || !y) {
    const only = x ?? y ?? agreed(slanted);
    return only && [only.scale, only.scale];
  }
  if (off(x.scale / y.scale) <= Math.log(AXES_REACH)) return [x.scale, y.scale];
  // One axis can't be ten times the other: the one that fewer readings speak for follows.
  const { scale } = x.count >= y.count ? x : y;
  return [scale, scale];
}

const off = (scale: number): number => Math.abs(Math.log(scale));

const ratiosOf = (lengths: readonly Observation[]): number[] =>
  lengths.flatMap(({ kind, valueMm, nominalMm, dx, dy }) =>
    valueMm > 0 && (kind === 'span' || nominalMm >= LEAST_MM) ? valueMm / Math.hypot(dx, dy) : [],
  );

/** No usable cut is wider, mm. */
const WIDEST_KERF_MM = 1;
/** A machine's own error, and a wrong edge by a slot's width: what statistics can judge. */
const OWN_SHARE = 0.05;
const WRONG_EDGE_MM = 2.5;
/** Shear may be so large a share of the scale. */
const SHEAR_REACH = 0.2;
/** A wide gauge's scatter, mm. */
const GAUGE_MM = 0.1;

/**
 * Holds readings against what can be, before any statistics: every span is its design times one scale, every opening
 * wider than its design by no more than a cut, every web narrower. A slip of the decimal point, inches, a wrong row
 * can't be a machine's doing, and two or three readings are enough to see it.
 *
 * @returns places of readings that can't be, whatever the machine; undefined when no pair of scales explains more than half of them
 */
function impossibleAmong(lengths: readonly Observation[]): number[] | undefined {
  const scales = agreedScales(lengths, canBe);
  if (!scales) return lengths.every(({ kind }) => kind === 'vernier') ? [] : undefined;
  const impossible = [...lengths.keys()].filter((i) => !canBe(lengths[i], scales));
  const few = lengths.length === 1 || 2 * impossible.length < lengths.length;
  return few ? impossible : undefined;
}

/** Whether a machine of these scales may give a reading. */
export function canBe(
  { kind, dx, dy, valueMm, resolutionMm }: Pick<Observation, 'kind' | 'dx' | 'dy' | 'valueMm' | 'resolutionMm'>,
  scales: Scales,
): boolean {
  if (kind === 'vernier') return true;
  if (!(valueMm > 0)) return false;
  const film = lengthBy({ dx, dy }, scales);
  const own = (OWN_SHARE + (dx !== 0 && dy !== 0 ? SHEAR_REACH : 0)) * film + resolutionMm;
  const off = valueMm - film;
  if (kind === 'span') return Math.abs(off) <= own + Math.min(WRONG_EDGE_MM, film / 2);
  const wider = kind === 'opening' ? off : -off;
  return wider >= -own - GAUGE_MM && wider <= WIDEST_KERF_MM + own + GAUGE_MM;
}

/** Of many readings that can't be a few may be slips of their own, or windows that were found by their letters. */
const FEW_LEFT_SHARE = 0.25;

const TURNED =
  'the film lay turned or mirrored, or the coupon was cut so: each is what the other end of its ruler reads';
const HYPOTHESES: readonly (LaidWrong & { readonly say: string })[] = [
  { mirrored: [0], swap: false, say: TURNED },
  { mirrored: [1], swap: false, say: TURNED },
  { mirrored: [0, 1], swap: false, say: TURNED },
  { mirrored: [], swap: true, say: 'X and Y were interchanged: each is what the ruler along the other axis reads' },
];

/**
 * Whether readings that can't be are nearly all explained by a film that was read the wrong way round: a ruler has
 * unlike spans at its two ends, and other lengths along X than along Y, so that it shows.
 *
 * @param impossible - how many can't be as they stand
 * @returns what was wrong with the whole, in words, and how many it leaves unexplained; undefined when it was not that
 */
function wholeFileCause(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
  impossible: number,
): { readonly say: string; readonly left: number } | undefined {
  const tried = [isOfRuler, isSpan].flatMap((isRead) => {
    const rows = sessions.map(({ features }) => rulerRows(features.filter(isRead)));
    return HYPOTHESES.flatMap(({ say, ...laid }) => {
      const other = lengths.map((length) => {
        const across = isRead(length.feature) ? lengthIf(laid, length.feature, rows[length.session]) : undefined;
        return across ? { ...length, ...across } : length;
      });
      const left = other.every((length, i) => length === lengths[i]) ? undefined : impossibleAmong(other);
      return left ? [{ say, left: left.length }] : [];
    });
  });
  const [best] = tried.sort((a, b) => a.left - b.left);
  return best && best.left <= FEW_LEFT_SHARE * impossible ? best : undefined;
}

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

/** What machines, kerfs and hands may make of a length beside the scale of its axis. */
const ANY_SHARE = 0.02;
const ANY_MM = 0.3;
/** Fewer lengths tell nothing. */
const LEAST_LENGTHS = 4;
/** A single length that nothing explains may be a slip, and so may one of these. */
const SLIPS_SHARE = 0.1;

/**
 * Refuses readings of another coupon than the features file's, or of another size of it: most are far off their design,
 * and whatever scales the two axes have, some lie far off those, too, as no slip does. Readings that are left out count
 * here: what is left when these are dropped agrees, and is as wrong.
 *
 * @throws {InputError} READINGS_CONTRADICT
 */
export function refuseAnotherCoupon(lengths: readonly Observation[], sessions: readonly ReadingSession[]): void {
  sessions.forEach((session, s) => {
    const own = lengths.filter((one) => one.session === s && one.kind !== 'vernier' && one.nominalMm >= LEAST_MM);
    const off = own.filter((one) => !agrees(one, [1, 1]));
    if (own.length < LEAST_LENGTHS || 2 * off.length <= own.length) return;
    const unexplained = unexplainedBy(own, agreedScales(own, agrees) ?? [1, 1]);
    if (unexplained < 2 || unexplained <= SLIPS_SHARE * own.length) return;
    const shares = off.map(({ valueMm, nominalMm }) => valueMm / nominalMm);
    const [least, most] = [Math.min(...shares), Math.max(...shares)].map((share) => share.toFixed(2));
    throw new InputError({
      code: 'READINGS_CONTRADICT',
      place: { file: session.readings[0]?.file },
      message: `${off.length} of ${own.length} lengths are far off those designed for ${session.coupon}, ${least} to ${most} times as long, and no scale of X and Y explains that: they are probably of another coupon, or of another size of it.`,
      hint: `${canvasSentence(session)} Neither leaving readings out nor the robust answer makes a profile of these.`,
    });
  });
}

const lengthBy = ({ dx, dy }: Pick<Observation, 'dx' | 'dy'>, [x, y]: Scales): number => Math.hypot(x * dx, y * dy);

function toleranceOf({ kind }: Observation, expectedMm: number): number {
  return ANY_SHARE * expectedMm + ANY_MM + (kind === 'span' ? 0 : WIDEST_KERF_MM);
}

function agrees(length: Observation, scales: Scales): boolean {
  const expectedMm = lengthBy(length, scales);
  return Math.abs(length.valueMm - expectedMm) <= toleranceOf(length, expectedMm);
}

/** How many are neither what the scales make of their design nor a slip that has a name. */
function unexplainedBy(lengths: readonly Observation[], scales: Scales): number {
  const context = contextOf(lengths, [...scales, 0, 0, 0], toleranceOf);
  return [...context.outliers].filter((i) => !FAR_SLIPS.includes(likelyCause(i, context).cause)).length;
}

const sizeOf = ({ widthMm, heightMm }: NonNullable<ReadingSession['canvas']>): string =>
  `${widthMm.toFixed(1)} x ${heightMm.toFixed(1)} mm`;

/** How to see whether a film is what a features file describes. */
export function canvasSentence({ coupon, canvas }: Pick<ReadingSession, 'coupon' | 'canvas'>): string {
  return canvas
    ? `By its features file ${coupon} was made for a canvas of ${sizeOf(canvas)}: hold that against the bed or film it was cut on, and lay the features file of the coupon that was read beside the readings.`
    : 'Hold the lengths in the features file against the worksheet of the coupon that was read.';
}

/** Canvases whose sides differ by less are one: they are rounded to whole dots, mm. */
const ONE_CANVAS_MM = 1;

/** What coupons of unlike canvases deserve to be told when their readings do not belong together; undefined for like ones. */
export function otherCanvas(sessions: readonly ReadingSession[]): string | undefined {
  // A witness lies wherever a sheet has room for it.
  const sized = sessions.flatMap(({ coupon, canvas }) => (canvas && coupon !== 'witness' ? [{ coupon, canvas }] : []));
  const [first] = sized;
  const other = sized.find(({ canvas }) =>
    (['widthMm', 'heightMm'] as const).some((side) => Math.abs(canvas[side] - first.canvas[side]) > ONE_CANVAS_MM),
  );
  return (
    other &&
    `${first.coupon} was made for a canvas of ${sizeOf(first.canvas)}, ${other.coupon} for one of ${sizeOf(other.canvas)}: were both cut by one laser? If not, fit each with its own.`
  );
}

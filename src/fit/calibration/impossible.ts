import { type DimensionalFeature, type Feature, isForJaws } from '../../coupon/features.js';
import { InputError, type Problem } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import { capProblems } from '../../readings/csv-rows.js';
import { firstOf } from '../../text.js';
import { canvasSentence } from './another-coupon.js';
import { type CauseContext, type CauseFound, likelyCause, type ReadingCause } from './causes.js';
import { predictLength, startParameters } from './design.js';
import { type Observation, placeOf } from './observations.js';
import type { FlaggedReading } from './types.js';

/** How far a right reading may lie from what the others say, when they have not been fitted yet. */
const ABOUT_MM = 0.06;
const ABOUT_SHARE = 0.004;

/**
 * Readings that can't be, whatever the machine, each with what it probably is.
 *
 * @throws {InputError} READINGS_CONTRADICT, READ_WRONG_WAY_ROUND when no scale is possible for most of them
 */
export function impossibleReadings(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
): FlaggedReading[] {
  if (lengths.length === 0) return [];
  const possible = possibleReadings(lengths);
  if (!possible) {
    const whole = wholeFileCause(lengths, sessions, lengths.length);
    throw whole ? new InputError(wrongWay(lengths.map(placeOf), whole)) : contradict(sessions);
  }
  const { impossible } = possible;
  if (impossible.length === 0) return [];
  const out = new Set(impossible);
  const parameters = startParameters(lengths.filter((_, i) => !out.has(i)));
  const predicted = lengths.map((length) => predictLength(length, parameters));
  const tolerance = predicted.map((mm, i) => ABOUT_MM + ABOUT_SHARE * Math.abs(mm) + lengths[i].resolutionMm);
  // Of two rows that were swapped one may be what some machine could give.
  const outliers = new Set(
    [...lengths.keys()].filter((i) => Math.abs(lengths[i].valueMm - predicted[i]) > tolerance[i]),
  );
  return impossible.map((i) => {
    const { feature, valueMm } = lengths[i];
    const found = causeOf(i, { lengths, predicted, parameters, tolerance, outliers });
    const because = found.cause === 'unclear' ? 'no machine makes that of it; measure it again' : found.because;
    return {
      ...placeOf(lengths[i]),
      readingMm: valueMm,
      expectedMm: predicted[i],
      distance: valueMm < predicted[i] ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY,
      cause: found.cause,
      sentence: `${feature.id} reads ${Number(valueMm.toFixed(5))} mm where about ${predicted[i].toFixed(2)} mm were expected: ${because}.`,
    };
  });
}

/** Where no other reading tells the scale of its axis, a prediction may be this far off: a factor shows all the same. */
const AXIS_UNKNOWN_SHARE = 0.03;
const FACTORS: readonly ReadingCause[] = ['decimal-slip', 'inch-for-mm', 'mm-for-inch', 'mil-for-mm'];

function causeOf(i: number, context: CauseContext): CauseFound {
  const near = likelyCause(i, context);
  if (near.cause !== 'unclear') return near;
  const tolerance = context.predicted.map((mm, j) => context.tolerance[j] + AXIS_UNKNOWN_SHARE * Math.abs(mm));
  const far = likelyCause(i, { ...context, tolerance });
  return FACTORS.includes(far.cause) ? far : near;
}

/** @throws {InputError} READ_WRONG_WAY_ROUND when that explains readings that can't be */
export function refuseWrongWay(
  found: readonly FlaggedReading[],
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
): void {
  const whole = found.length === 0 ? undefined : wholeFileCause(lengths, sessions, found.length);
  if (whole !== undefined) throw new InputError(wrongWay(found, whole));
}

/** What can't be is not averaged in: it is refused until it is corrected, or left out by name. */
export function refuseImpossible(found: readonly FlaggedReading[], sessions: readonly ReadingSession[]): void {
  if (found.length === 0) return;
  const unclear = found.filter(({ cause }) => cause === 'unclear');
  const other = unclear.length < 2 ? '' : ` Several that nothing explains may be of another coupon, or of another size of it. ${canvasSentence(sessions[unclear[0].session])}`; // biome-ignore format: one thought
  const ids = [...new Set(found.map(({ feature }) => feature))].join(',');
  throw new InputError(
    capProblems(
      found.map(({ sentence, file, line }, i) => ({
        code: 'READING_IMPOSSIBLE',
        place: { ...(file === undefined ? {} : { file }), ...(line === undefined ? {} : { line }) },
        message: sentence,
        // The last may not be told, where there are many.
        ...(i === 0
          ? {
              hint: `Correct the file, or say --drop ${ids}, or --robust. No machine is that far from the others' readings.${other}`,
            }
          : {}),
      })),
    ),
  );
}

function wrongWay(
  found: readonly Pick<FlaggedReading, 'feature' | 'file'>[],
  { say, left }: NonNullable<ReturnType<typeof wholeFileCause>>,
): Problem {
  const ids = [...new Set(found.map(({ feature }) => feature))];
  const some = firstOf(ids, 6);
  return {
    code: 'READ_WRONG_WAY_ROUND',
    place: found[0].file === undefined ? {} : { file: found[0].file },
    message: `${some} read${ids.length === 1 ? 's' : ''} what no machine makes of ${ids.length === 1 ? 'it' : 'them'}, but ${left === 0 ? 'all is' : `all but ${left} are`} right if ${say}.`,
    hint: 'Lay the film as the worksheet shows it, with its letters upright and readable, and read these again. If its letters can only be read mirrored, the machine mirrors: cut the coupon as the stencils will be cut.',
  };
}

function contradict(sessions: readonly ReadingSession[]): InputError {
  return new InputError({
    code: 'READINGS_CONTRADICT',
    message:
      'no scale and kerf that a machine can have explain even half of these readings: they are probably of another coupon, or of another size of it, or not in mm.',
    hint: `${sessions.map(canvasSentence).join(' ')} Look at the unit and the decimal points, too.`,
  });
}

/** Rows of slots whose other coordinate differs by less lie on one line, mm. */
const ONE_LINE_MM = 0.01;

type Axis = 0 | 1;
/** Edges of a row of slots, from its lower end. */
interface Row {
  readonly axis: Axis;
  readonly across: number;
  readonly edges: readonly number[];
}

/** Of many readings that can't be a few may be slips of their own, or windows that were found by their letters. */
const FEW_LEFT_SHARE = 0.25;

const TURNED =
  'the film lay turned or mirrored, or the coupon was cut so: each is what the other end of its ruler reads';
const HYPOTHESES: readonly { readonly mirrored: readonly Axis[]; readonly swap: boolean; readonly say: string }[] = [
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
    const rows = sessions.map(({ features }) => rowsOf(features.filter(isRead)));
    return HYPOTHESES.flatMap(({ mirrored, swap, say }) => {
      const other = lengths.map((length) => {
        const across = isRead(length.feature) ? rowLength(length.feature, rows[length.session], mirrored, swap) : undefined; // biome-ignore format: one thought
        return across ? { ...length, ...across } : length;
      });
      const possible = other.every((length, i) => length === lengths[i]) ? undefined : possibleReadings(other);
      return possible ? [{ say, left: possible.impossible.length }] : [];
    });
  });
  const [best] = tried.sort((a, b) => a.left - b.left);
  return best && best.left <= FEW_LEFT_SHARE * impossible ? best : undefined;
}

const isSpan = (feature: Feature): feature is DimensionalFeature => feature.kind === 'span';

/** Windows for a caliper's jaws lie in rows as slots do, a short one beside a long one. */
function isOfRuler(feature: Feature): feature is DimensionalFeature {
  return isSpan(feature) || ('from' in feature && isForJaws(feature));
}

function rowsOf(spans: readonly DimensionalFeature[]): Row[] {
  const rows: { axis: Axis; across: number; edges: number[] }[] = [];
  for (const { from, to } of spans) {
    const axis = from[1] === to[1] ? 0 : from[0] === to[0] ? 1 : undefined;
    if (axis === undefined) continue;
    const across = from[1 - axis];
    let row = rows.find((one) => one.axis === axis && Math.abs(one.across - across) < ONE_LINE_MM);
    if (!row) {
      row = { axis, across, edges: [] };
      rows.push(row);
    }
    row.edges.push(from[axis], to[axis]);
  }
  return rows
    .map(({ edges, ...row }) => ({ ...row, edges: [...new Set(edges)].sort((a, b) => a - b) }))
    .sort((a, b) => a.across - b.across);
}

/** How long what is read would be, had the film lain mirrored along some axes, or had the axes been interchanged. */
function rowLength(
  { from, to }: DimensionalFeature,
  rows: readonly Row[],
  mirrored: readonly Axis[],
  swap: boolean,
): { readonly dx: number; readonly dy: number } | undefined {
  const axis: Axis | undefined = from[1] === to[1] ? 0 : from[0] === to[0] ? 1 : undefined;
  if (axis === undefined || !(swap || mirrored.includes(axis))) return undefined;
  const along = rows.filter((row) => row.axis === axis);
  const own = along.findIndex(({ across }) => Math.abs(across - from[1 - axis]) < ONE_LINE_MM);
  const places = [from[axis], to[axis]].map((edge) => along[own].edges.indexOf(edge));
  const there = swap ? rows.filter((row) => row.axis !== axis)[own] : along[own];
  if (there?.edges.length !== along[own].edges.length) return undefined;
  const last = there.edges.length - 1;
  const [a, b] = places.map((i) => there.edges[swap ? i : last - i]);
  const lengthMm = Math.abs(b - a);
  return axis === 0 ? { dx: lengthMm, dy: 0 } : { dx: 0, dy: lengthMm };
}

/** Scales of a machine and a program together: from "inches taken as mm" to "mm taken as inches", with room. */
const SCALE_REACH = 60;
/** No usable cut is wider, mm. */
const WIDEST_KERF_MM = 1;
/** Scales of the two axes: programs take dots as square that aren't, or one axis has other steps. */
const AXES_REACH = 5;
/** A machine's own error, and a wrong edge by a slot's width: what statistics can judge. */
const OWN_SHARE = 0.05;
const WRONG_EDGE_MM = 2.5;
/** Shear may be so large a share of the scale. */
const SHEAR_REACH = 0.2;
/** A wide gauge's scatter, mm. */
const GAUGE_MM = 0.1;

export interface Possible {
  /** Film mm per commanded mm that most readings agree with. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** Places of readings that can't be, whatever the machine. */
  readonly impossible: readonly number[];
}

/**
 * Holds readings against what can be, before any statistics: every span is its design times one scale, every opening
 * wider than its design by no more than a cut, every web narrower. A slip of the decimal point, inches, a wrong row
 * can't be a machine's doing, and two or three readings are enough to see it.
 *
 * @returns undefined when no pair of scales explains more than half of the readings
 */
function possibleReadings(lengths: readonly Observation[]): Possible | undefined {
  const alongX = lengths.filter(({ kind, dy }) => kind !== 'vernier' && dy === 0);
  const alongY = lengths.filter(({ kind, dx }) => kind !== 'vernier' && dx === 0);
  const slanted = lengths.filter(({ kind, dx, dy }) => kind !== 'vernier' && dx !== 0 && dy !== 0);
  const spare = ratiosOf(slanted);
  let [x, y] = [agreed(alongX, spare), agreed(alongY, spare)];
  if (!x && !y) {
    const all = agreed(slanted, []);
    if (!all)
      return lengths.every(({ kind }) => kind === 'vernier') ? { scaleX: 1, scaleY: 1, impossible: [] } : undefined;
    [x, y] = [all, all];
  }
  let scaleX = (x ?? y)!.scale;
  let scaleY = (y ?? x)!.scale;
  if (x && y && Math.abs(Math.log(scaleX / scaleY)) > Math.log(AXES_REACH)) {
    // One axis can't be ten times the other: the one that fewer readings speak for follows.
    if (x.count >= y.count) scaleY = scaleX;
    else scaleX = scaleY;
  }
  const can = lengths.map((length) => canBe(length, scaleX, scaleY));
  const count = can.filter(Boolean).length;
  if (2 * count <= lengths.length && lengths.length > 1) return undefined;
  return { scaleX, scaleY, impossible: can.flatMap((is, i) => (is ? [] : [i])) };
}

function ratiosOf(lengths: readonly Observation[]): number[] {
  return lengths
    .filter(({ kind, valueMm }) => kind === 'span' && valueMm > 0)
    .map(({ valueMm, dx, dy }) => valueMm / Math.hypot(dx, dy));
}

/** The scale that most readings of one axis can have; of equals the one nearest to 1. */
function agreed(
  lengths: readonly Observation[],
  spare: readonly number[],
): { readonly scale: number; readonly count: number } | undefined {
  if (lengths.length === 0) return undefined;
  const own = ratiosOf(lengths);
  let best: { scale: number; count: number } | undefined;
  for (const scale of [...new Set([1, ...own, ...spare])]) {
    if (Math.abs(Math.log(scale)) > Math.log(SCALE_REACH)) continue;
    const count = lengths.filter((length) => canBe(length, scale, scale)).length;
    const nearer = best && Math.abs(Math.log(scale)) < Math.abs(Math.log(best.scale));
    if (count > 0 && (!best || count > best.count || (count === best.count && nearer))) best = { scale, count };
  }
  return best;
}

function canBe({ kind, dx, dy, valueMm, resolutionMm }: Observation, scaleX: number, scaleY: number): boolean {
  if (kind === 'vernier') return true;
  if (!(valueMm > 0)) return false;
  const film = Math.hypot(scaleX * dx, scaleY * dy);
  const own = (OWN_SHARE + (dx !== 0 && dy !== 0 ? SHEAR_REACH : 0)) * film + resolutionMm;
  const off = valueMm - film;
  if (kind === 'span') return Math.abs(off) <= own + Math.min(WRONG_EDGE_MM, film / 2);
  const wider = kind === 'opening' ? off : -off;
  return wider >= -own - GAUGE_MM && wider <= WIDEST_KERF_MM + own + GAUGE_MM;
}

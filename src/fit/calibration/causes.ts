import { predictLength } from './design.js';
import type { Observation } from './observations.js';

/** What probably went wrong with a reading that doesn't belong to the others. */
export type ReadingCause =
  | 'sign'
  | 'decimal-slip'
  | 'inch-for-mm'
  | 'mm-for-inch'
  | 'mil-for-mm'
  | 'swapped'
  | 'web-for-opening'
  | 'opening-for-web'
  | 'wrong-edge'
  | 'digits-swapped'
  | 'row-slip'
  | 'whole-mm'
  | 'unclear';

/** What makes a number too large or too small by far. */
export const FACTORS: readonly ReadingCause[] = ['decimal-slip', 'inch-for-mm', 'mm-for-inch', 'mil-for-mm'];
/** Slips that are off by too much to be anything else. */
export const FAR_SLIPS: readonly ReadingCause[] = ['sign', 'swapped', ...FACTORS];
/** Causes that no machine brings about. */
export const TYPED_WRONG: readonly ReadingCause[] = [...FAR_SLIPS, 'digits-swapped', 'row-slip'];

export interface CauseFound {
  readonly cause: ReadingCause;
  /** One sentence without the reading's name. */
  readonly because: string;
}

/** What is known about all readings when one of them is judged. */
export type CauseContext = ReturnType<typeof contextOf>;

/** @param toleranceOf - how far a right reading may lie from its prediction, mm */
export function contextOf(
  lengths: readonly Observation[],
  parameters: readonly number[],
  toleranceOf: (length: Observation, expectedMm: number, i: number) => number,
) {
  const predicted = lengths.map((length) => predictLength(length, parameters));
  const tolerance = lengths.map((length, i) => toleranceOf(length, predicted[i], i));
  const isOut = (i: number): boolean => Math.abs(lengths[i].valueMm - predicted[i]) > tolerance[i];
  const outliers: ReadonlySet<number> = new Set([...lengths.keys()].filter(isOut));
  return { lengths, predicted, parameters, tolerance, outliers };
}

/** A step of an inch gauge beyond this share of the length would make anything fit. */
const LOOSEST_INCH = 0.03;
/** Readings at most this many rows away may have been mixed up. */
const ROWS_AWAY = 3;
/** Edges of one slot lie at most this far apart, mm. */
const WIDEST_SLOT_MM = 5;

/** The most likely cause: the first that would make the reading fit, the surest ones first. */
export function likelyCause(i: number, context: CauseContext): CauseFound {
  const judged = judge(i, context);
  const { expectedMm, meant, valueMm, length, toleranceMm } = judged;
  const slips = (loosened = (_: number): number => 1): CauseFound[] =>
    [1, -1, 2, -2, 3, -3].flatMap((power) => {
      const places = Math.abs(power) === 1 ? 'one place' : `${Math.abs(power)} places`;
      return meant(valueMm * 10 ** power, 'decimal-slip', `the decimal point slipped by ${places}`, loosened(power));
    });
  // A reading that was typed too small and then cut to the gauge's step has lost digits.
  const cutShort = (power: number): number =>
    power > 0 ? 1 + (10 ** power * length.resolutionMm) / 2 / toleranceMm : 1;
  const [cause = { cause: 'unclear' as const, because: `the model says ${mm(expectedMm)}; measure it again` }] = [
    ...mixedUp(judged),
    ...slips(),
    ...otherUnit(judged),
    ...otherEdges(judged),
    ...slips(cutShort),
    ...digitsSwapped(judged),
    ...mistaken(judged),
  ];
  return cause;
}

type Judged = ReturnType<typeof judge>;

/** The reading that is judged, among the others, and what is asked of it. */
function judge(i: number, context: CauseContext) {
  const [length, expectedMm, toleranceMm] = [context.lengths[i], context.predicted[i], context.tolerance[i]];
  const { valueMm, session, index } = length;
  const isNear = (value: number, wantedMm: number, within = toleranceMm): boolean =>
    Math.abs(value - wantedMm) <= within;
  const found = (is: boolean, cause: ReadingCause, because: string): CauseFound[] => (is ? [{ cause, because }] : []);
  const away = (j: number): number => Math.abs(context.lengths[j].index - index);
  return {
    ...context,
    length,
    valueMm,
    expectedMm,
    toleranceMm,
    /** By how much it is too long, mm. */
    offMm: valueMm - expectedMm,
    isNear,
    found,
    /** Whether it would fit, had it been this long; it may lie so many times as far off. */
    meant: (meantMm: number, cause: ReadingCause, because: string, loosened = 1): CauseFound[] =>
      found(
        meantMm > 0 && isNear(meantMm, expectedMm, toleranceMm * loosened),
        cause,
        `${because}: ${mm(meantMm)} would fit`,
      ),
    away,
    /** The others of its coupon, the nearest rows first. */
    others: [...context.lengths.keys()]
      .filter((j) => j !== i && context.lengths[j].session === session)
      .sort((a, b) => away(a) - away(b)),
  };
}

const mm = (value: number): string => `${Number(value.toFixed(4))} mm`;

function nameOf(length: Observation): string {
  return length.reading.line === undefined ? length.feature.id : `${length.feature.id} (line ${length.reading.line})`;
}

function mixedUp({ valueMm, expectedMm, predicted, tolerance, lengths, outliers, others, isNear, found }: Judged) {
  const partners = others.filter(
    (j) => outliers.has(j) && isNear(lengths[j].valueMm, expectedMm) && isNear(valueMm, predicted[j], tolerance[j]),
  );
  return [
    ...found(valueMm < 0 && isNear(-valueMm, expectedMm), 'sign', 'it is negative, and right without the minus'),
    ...partners.flatMap((j) => found(true, 'swapped', `swapped with ${nameOf(lengths[j])}`)),
  ];
}

function otherUnit({ length, valueMm, expectedMm, toleranceMm, meant }: Judged): CauseFound[] {
  // Decimals of an inch are three as a rule, and fewer where lengths are long enough to tell.
  const asTyped = 25.4 * length.resolutionMm;
  const stepMm = asTyped < LOOSEST_INCH * expectedMm ? Math.max(0.0254, asTyped) : 0.0254;
  return [
    ...meant(valueMm * 25.4, 'inch-for-mm', 'it was read in inches', 1 + stepMm / 2 / toleranceMm),
    ...meant(valueMm / 25.4, 'mm-for-inch', 'it was read in mm and entered as inches'),
    ...meant(valueMm * 0.0254, 'mil-for-mm', 'it was read in mil'),
    ...meant(valueMm / 0.0254, 'mm-for-inch', 'it was read in mm and entered as mil'),
  ];
}

const wrongEdge = (offMm: number, by: string): string => `wrong edge: ${offMm > 0 ? 'too long' : 'too short'} by ${by}`;

/** Between edges that are a kerf apart from those that were meant. */
function otherEdges({ length, valueMm, parameters, offMm, toleranceMm, isNear, found }: Judged): CauseFound[] {
  const { kind } = length;
  const as = (other: Observation['kind']): number => predictLength({ ...length, kind: other }, parameters);
  const kerfMm = kind === 'vernier' ? 0 : as('opening') - as('span');
  const missing = 'a web was read for the opening: the kerf is missing on both sides';
  const there = 'an opening was read for the web: the kerf is there on both sides';
  const isBy = (size: number): boolean => kerfMm > 2 * toleranceMm && isNear(Math.abs(offMm), size);
  return [
    ...found(kind === 'opening' && isNear(valueMm, as('web')), 'web-for-opening', missing),
    ...found(kind === 'web' && isNear(valueMm, as('opening')), 'opening-for-web', there),
    ...found(isBy(kerfMm), 'wrong-edge', wrongEdge(offMm, `one kerf (${mm(kerfMm)})`)),
    ...found(isBy(kerfMm / 2), 'wrong-edge', wrongEdge(offMm, `half a kerf (${mm(kerfMm / 2)})`)),
  ];
}

/** Two neighbouring digits changed places: 10.05 typed as 10.50. */
function digitsSwapped({ length: { resolutionMm }, valueMm, meant }: Judged): CauseFound[] {
  if (!(resolutionMm > 0) || valueMm <= 0) return [];
  const decimals = Math.max(0, Math.min(4, Math.ceil(-Math.log10(resolutionMm) - 1e-9)));
  const digits = valueMm.toFixed(decimals).replace('.', '');
  return [...digits.slice(1)].flatMap((digit, k) => {
    if (digits[k] === digit) return [];
    const meantMm = Number(digits.slice(0, k) + digit + digits[k] + digits.slice(k + 2)) / 10 ** decimals;
    return meant(meantMm, 'digits-swapped', 'two digits changed places', 0.5);
  });
}

/** An opening that runs along the span's direction: its width can be what the span is off by. */
function runsAlong(span: Observation, opening: Observation): boolean {
  const cross = span.dx * opening.dy - span.dy * opening.dx;
  return Math.abs(cross) <= 1e-6 * Math.hypot(span.dx, span.dy) * Math.hypot(opening.dx, opening.dy);
}

const WHOLE_MM = [1, 2, 5, 10, 20, 50, 100];

/** A slot, a row or a line of the scale was taken for another. */
function mistaken(judged: Judged): CauseFound[] {
  const { length, lengths, valueMm, offMm, toleranceMm, predicted, tolerance, others, away, isNear, found } = judged;
  const isSpan = length.kind === 'span';
  const [off, whole] = [Math.abs(offMm), Math.abs(Math.round(offMm))];
  const slots = lengths.filter(
    (one, j) =>
      isSpan &&
      one.kind === 'opening' &&
      one.session === length.session &&
      runsAlong(length, one) &&
      isNear(off, predicted[j]),
  );
  const rows = others.filter(
    (j) => away(j) > 0 && away(j) <= ROWS_AWAY && isNear(valueMm, predicted[j], tolerance[j] / 2),
  );
  return [
    ...slots.flatMap((slot) => found(true, 'wrong-edge', wrongEdge(offMm, `the width of ${nameOf(slot)}`))),
    ...rows.flatMap((j) => found(true, 'row-slip', `it is what ${nameOf(lengths[j])} should read: a slip of the row`)),
    ...(WHOLE_MM.includes(whole)
      ? judged.meant(valueMm - Math.round(offMm), 'whole-mm', `it is off by ${whole} mm exactly`, 0.5)
      : []),
    ...found(
      isSpan && off <= WIDEST_SLOT_MM && off >= 3 * toleranceMm,
      'wrong-edge',
      `perhaps a wrong edge: it is off by ${mm(off)}, about the width of a slot`,
    ),
  ];
}

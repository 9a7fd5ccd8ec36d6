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
export interface CauseContext {
  readonly lengths: readonly Observation[];
  /** By the clean fit, mm. */
  readonly predicted: readonly number[];
  readonly parameters: readonly number[];
  /** How far a right reading may lie from its prediction, mm. */
  readonly tolerance: readonly number[];
  readonly outliers: ReadonlySet<number>;
}

/** The reading that is judged, among the others. */
interface Judged extends CauseContext {
  readonly i: number;
  readonly length: Observation;
  readonly expectedMm: number;
  readonly toleranceMm: number;
  /** By how much it is too long, mm. */
  readonly offMm: number;
}

const mm = (value: number): string => `${Number(value.toFixed(4))} mm`;

/** A step of an inch gauge beyond this share of the length would make anything fit. */
const LOOSEST_INCH = 0.03;
/** Readings at most this many rows away may have been mixed up. */
const ROWS_AWAY = 3;
/** Edges of one slot lie at most this far apart, mm. */
const WIDEST_SLOT_MM = 5;

/** The most likely cause, the surest tests first. */
export function likelyCause(i: number, context: CauseContext): CauseFound {
  const [length, expectedMm, toleranceMm] = [context.lengths[i], context.predicted[i], context.tolerance[i]];
  const judged = { ...context, i, length, expectedMm, toleranceMm, offMm: length.valueMm - expectedMm };
  for (const test of TESTS) {
    const found = test(judged);
    if (found) return found;
  }
  return { cause: 'unclear', because: `the model says ${mm(expectedMm)}; measure it again` };
}

const TESTS: readonly ((judged: Judged) => CauseFound | undefined)[] = [
  sign,
  swapped,
  (judged) => decimalSlip(judged),
  units,
  otherThing,
  kerf,
  decimalSlipCutShort,
  digitsSwapped,
  slotWidth,
  rowSlip,
  wholeMillimetres,
  otherEdge,
];

const isNear = (value: number, expectedMm: number, toleranceMm: number): boolean =>
  Math.abs(value - expectedMm) <= toleranceMm;

/** What else may have been meant, mm, if that would fit; `loosened`: how many times as far off it may lie. */
interface Meant extends CauseFound {
  readonly meantMm: number;
  readonly loosened?: number;
}

function firstThatFits({ expectedMm, toleranceMm }: Judged, tries: readonly Meant[]): CauseFound | undefined {
  const found = tries.find(({ meantMm, loosened = 1 }) => meantMm > 0 && isNear(meantMm, expectedMm, toleranceMm * loosened)); // biome-ignore format: one thought
  return found && { cause: found.cause, because: `${found.because}: ${mm(found.meantMm)} would fit` };
}

function sign({ length: { valueMm }, expectedMm, toleranceMm }: Judged): CauseFound | undefined {
  if (valueMm >= 0 || !isNear(-valueMm, expectedMm, toleranceMm)) return undefined;
  return { cause: 'sign', because: 'it is negative, and right without the minus' };
}

function decimalSlip(judged: Judged, loosened = (_: number): number => 1): CauseFound | undefined {
  const slips = [1, -1, 2, -2, 3, -3].map((power): Meant => {
    const places = Math.abs(power) === 1 ? 'one place' : `${Math.abs(power)} places`;
    const because = `the decimal point slipped by ${places}`;
    return { meantMm: judged.length.valueMm * 10 ** power, cause: 'decimal-slip', because, loosened: loosened(power) };
  });
  return firstThatFits(judged, slips);
}

/** A reading that was typed too small and then cut to the gauge's step has lost digits. */
function decimalSlipCutShort(judged: Judged): CauseFound | undefined {
  const { length, toleranceMm } = judged;
  return decimalSlip(judged, (power) => (power > 0 ? 1 + (10 ** power * length.resolutionMm) / 2 / toleranceMm : 1));
}

function units(judged: Judged): CauseFound | undefined {
  const { length, expectedMm, toleranceMm } = judged;
  const value = length.valueMm;
  // Decimals of an inch are three as a rule, and fewer where lengths are long enough to tell.
  const asTyped = 25.4 * length.resolutionMm;
  const stepMm = asTyped < LOOSEST_INCH * expectedMm ? Math.max(0.0254, asTyped) : 0.0254;
  return firstThatFits(judged, [
    { meantMm: value * 25.4, cause: 'inch-for-mm', because: 'it was read in inches', loosened: 1 + stepMm / 2 / toleranceMm }, // biome-ignore format: a row
    { meantMm: value / 25.4, cause: 'mm-for-inch', because: 'it was read in mm and entered as inches' },
    { meantMm: value * 0.0254, cause: 'mil-for-mm', because: 'it was read in mil' },
    { meantMm: value / 0.0254, cause: 'mm-for-inch', because: 'it was read in mm and entered as mil' },
  ]);
}

function swapped({ i, length, lengths, outliers, predicted, tolerance }: Judged): CauseFound | undefined {
  const [partner] = [...outliers]
    .filter(
      (j) =>
        j !== i &&
        lengths[j].session === length.session &&
        isNear(lengths[j].valueMm, predicted[i], tolerance[i]) &&
        isNear(length.valueMm, predicted[j], tolerance[j]),
    )
    .map((j) => lengths[j])
    .sort((a, b) => Math.abs(a.index - length.index) - Math.abs(b.index - length.index));
  return partner && { cause: 'swapped', because: `swapped with ${nameOf(partner)}` };
}

function otherThing({ length, parameters, toleranceMm }: Judged): CauseFound | undefined {
  if (length.kind !== 'opening' && length.kind !== 'web') return undefined;
  const other = length.kind === 'opening' ? 'web' : 'opening';
  if (!isNear(length.valueMm, predictLength({ ...length, kind: other }, parameters), toleranceMm)) return undefined;
  return length.kind === 'opening'
    ? { cause: 'web-for-opening', because: 'a web was read for the opening: the kerf is missing on both sides' }
    : { cause: 'opening-for-web', because: 'an opening was read for the web: the kerf is there on both sides' };
}

const wrongEdge = (offMm: number, by: string): CauseFound => ({
  cause: 'wrong-edge',
  because: `wrong edge: ${offMm > 0 ? 'too long' : 'too short'} by ${by}`,
});

function kerf({ length, parameters, offMm, toleranceMm }: Judged): CauseFound | undefined {
  if (length.kind === 'vernier') return undefined;
  const [opening, span] = (['opening', 'span'] as const).map((kind) => predictLength({ ...length, kind }, parameters));
  const kerfMm = opening - span;
  const isBy = (size: number): boolean => isNear(Math.abs(offMm), size, toleranceMm);
  if (kerfMm <= 2 * toleranceMm || !(isBy(kerfMm) || isBy(kerfMm / 2))) return undefined;
  return wrongEdge(offMm, isBy(kerfMm) ? `one kerf (${mm(kerfMm)})` : `half a kerf (${mm(kerfMm / 2)})`);
}

function slotWidth({ length, lengths, predicted, offMm, toleranceMm }: Judged): CauseFound | undefined {
  if (length.kind !== 'span') return undefined;
  const slot = lengths.find(
    (other, j) =>
      other.kind === 'opening' &&
      other.session === length.session &&
      runsAlong(length, other) &&
      isNear(Math.abs(offMm), predicted[j], toleranceMm),
  );
  return slot && wrongEdge(offMm, `the width of ${nameOf(slot)}`);
}

/** An opening that runs along the span's direction: its width can be what the span is off by. */
function runsAlong(span: Observation, opening: Observation): boolean {
  const cross = span.dx * opening.dy - span.dy * opening.dx;
  return Math.abs(cross) <= 1e-6 * Math.hypot(span.dx, span.dy) * Math.hypot(opening.dx, opening.dy);
}

/** Two neighbouring digits changed places: 10.05 typed as 10.50. */
function digitsSwapped(judged: Judged): CauseFound | undefined {
  const { valueMm, resolutionMm } = judged.length;
  if (!(resolutionMm > 0) || valueMm <= 0) return undefined;
  const decimals = Math.max(0, Math.min(4, Math.ceil(-Math.log10(resolutionMm) - 1e-9)));
  const digits = valueMm.toFixed(decimals).replace('.', '');
  const turned = [...digits.slice(1)].flatMap((digit, k): Meant[] => {
    if (digits[k] === digit) return [];
    const meantMm = Number(digits.slice(0, k) + digit + digits[k] + digits.slice(k + 2)) / 10 ** decimals;
    return [{ meantMm, cause: 'digits-swapped', because: 'two digits changed places', loosened: 0.5 }];
  });
  return firstThatFits(judged, turned);
}

function rowSlip({ length, lengths, predicted, tolerance }: Judged): CauseFound | undefined {
  const away = ({ index }: Observation): number => Math.abs(index - length.index);
  const [other] = lengths
    .filter((one, j) => {
      const isNextTo = one.session === length.session && away(one) > 0 && away(one) <= ROWS_AWAY;
      return isNextTo && isNear(length.valueMm, predicted[j], tolerance[j] / 2);
    })
    .sort((a, b) => away(a) - away(b));
  return other && { cause: 'row-slip', because: `it is what ${nameOf(other)} should read: a slip of the row` };
}

const WHOLE_MM = [1, 2, 5, 10, 20, 50, 100];

function wholeMillimetres(judged: Judged): CauseFound | undefined {
  const whole = Math.round(judged.offMm);
  if (!WHOLE_MM.includes(Math.abs(whole))) return undefined;
  const because = `it is off by ${Math.abs(whole)} mm exactly`;
  return firstThatFits(judged, [{ meantMm: judged.length.valueMm - whole, cause: 'whole-mm', because, loosened: 0.5 }]);
}

function otherEdge({ length, offMm, toleranceMm }: Judged): CauseFound | undefined {
  const off = Math.abs(offMm);
  if (length.kind !== 'span' || off > WIDEST_SLOT_MM || off < 3 * toleranceMm) return undefined;
  return { cause: 'wrong-edge', because: `perhaps a wrong edge: it is off by ${mm(off)}, about the width of a slot` };
}

function nameOf(length: Observation): string {
  return length.reading.line === undefined ? length.feature.id : `${length.feature.id} (line ${length.reading.line})`;
}

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

export interface CauseFound {
  readonly cause: ReadingCause;
  /** One sentence without the reading's name. */
  readonly because: string;
  /** What the reading would be if this is it, mm. */
  readonly meantMm?: number;
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

const mm = (value: number): string => `${Number(value.toFixed(4))} mm`;

/** A step of an inch gauge beyond this share of the length would make anything fit. */
const LOOSEST_INCH = 0.03;
/** Readings at most this many rows away may have been mixed up. */
const ROWS_AWAY = 3;
/** Edges of one slot lie at most this far apart, mm. */
const WIDEST_SLOT_MM = 5;

/** The most likely cause, the surest tests first. */
export function likelyCause(i: number, context: CauseContext): CauseFound {
  for (const test of TESTS) {
    const found = test(i, context);
    if (found) return found;
  }
  return { cause: 'unclear', because: `the model says ${mm(context.predicted[i])}; measure it again` };
}

/** Half of this is how far an inch reading may be off by its decimals: three as a rule, fewer where lengths are long enough to tell. */
function inchStepMm(i: number, { lengths, predicted }: CauseContext): number {
  const asTyped = 25.4 * lengths[i].resolutionMm;
  return asTyped < LOOSEST_INCH * predicted[i] ? Math.max(0.0254, asTyped) : 0.0254;
}

type Test = (i: number, context: CauseContext) => CauseFound | undefined;

const TESTS: readonly Test[] = [
  sign,
  swapped,
  decimalSlip,
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

function fits(value: number, i: number, { predicted, tolerance }: CauseContext, loosened = 1): boolean {
  return Math.abs(value - predicted[i]) <= tolerance[i] * loosened;
}

/** What else may have been meant, mm, if that would fit; `loosened`: how many times as far off it may lie. */
interface Meant {
  readonly meantMm: number;
  readonly cause: ReadingCause;
  readonly because: string;
  readonly loosened?: number;
}

function firstThatFits(i: number, context: CauseContext, tries: readonly Meant[]): CauseFound | undefined {
  const found = tries.find(({ meantMm, loosened }) => meantMm > 0 && fits(meantMm, i, context, loosened));
  return found && { cause: found.cause, because: `${found.because}: ${mm(found.meantMm)} would fit`, meantMm: found.meantMm }; // biome-ignore format: one record
}

function sign(i: number, context: CauseContext): CauseFound | undefined {
  const value = context.lengths[i].valueMm;
  if (value >= 0 || !fits(-value, i, context)) return undefined;
  return { cause: 'sign', because: 'it is negative, and right without the minus', meantMm: -value };
}

function decimalSlip(i: number, context: CauseContext, loosened = (_: number): number => 1): CauseFound | undefined {
  const slips = [1, -1, 2, -2, 3, -3].map((power): Meant => {
    const places = Math.abs(power) === 1 ? 'one place' : `${Math.abs(power)} places`;
    const because = `the decimal point slipped by ${places}`;
    return {
      meantMm: context.lengths[i].valueMm * 10 ** power,
      cause: 'decimal-slip',
      because,
      loosened: loosened(power),
    };
  });
  return firstThatFits(i, context, slips);
}

/** A reading that was typed too small and then cut to the gauge's step has lost digits. */
function decimalSlipCutShort(i: number, context: CauseContext): CauseFound | undefined {
  return decimalSlip(i, context, (power) =>
    power > 0 ? 1 + (10 ** power * context.lengths[i].resolutionMm) / 2 / context.tolerance[i] : 1,
  );
}

function units(i: number, context: CauseContext): CauseFound | undefined {
  const value = context.lengths[i].valueMm;
  const ofStep = 1 + inchStepMm(i, context) / 2 / context.tolerance[i];
  return firstThatFits(i, context, [
    { meantMm: value * 25.4, cause: 'inch-for-mm', because: 'it was read in inches', loosened: ofStep },
    { meantMm: value / 25.4, cause: 'mm-for-inch', because: 'it was read in mm and entered as inches' },
    { meantMm: value * 0.0254, cause: 'mil-for-mm', because: 'it was read in mil' },
    { meantMm: value / 0.0254, cause: 'mm-for-inch', because: 'it was read in mm and entered as mil' },
  ]);
}

function swapped(i: number, context: CauseContext): CauseFound | undefined {
  const { lengths, outliers } = context;
  const partner = [...outliers]
    .filter(
      (j) =>
        j !== i &&
        lengths[j].session === lengths[i].session &&
        fits(lengths[j].valueMm, i, context) &&
        fits(lengths[i].valueMm, j, context),
    )
    .sort((a, b) => Math.abs(lengths[a].index - lengths[i].index) - Math.abs(lengths[b].index - lengths[i].index))[0];
  if (partner === undefined) return undefined;
  const other = lengths[partner];
  return { cause: 'swapped', because: `swapped with ${nameOf(other)}`, meantMm: other.valueMm };
}

function otherThing(i: number, context: CauseContext): CauseFound | undefined {
  const length = context.lengths[i];
  if (length.kind !== 'opening' && length.kind !== 'web') return undefined;
  const other = length.kind === 'opening' ? 'web' : 'opening';
  const asOther = predictLength({ ...length, kind: other }, context.parameters);
  if (Math.abs(length.valueMm - asOther) > context.tolerance[i]) return undefined;
  return length.kind === 'opening'
    ? { cause: 'web-for-opening', because: `a web was read for the opening: the kerf is missing on both sides` }
    : { cause: 'opening-for-web', because: `an opening was read for the web: the kerf is there on both sides` };
}

const tooLong = (off: number): string => (off > 0 ? 'too long' : 'too short');

function kerf(i: number, { lengths, predicted, parameters, tolerance }: CauseContext): CauseFound | undefined {
  const length = lengths[i];
  if (length.kind === 'vernier') return undefined;
  const off = length.valueMm - predicted[i];
  const [opening, span] = (['opening', 'span'] as const).map((kind) => predictLength({ ...length, kind }, parameters));
  const kerfMm = opening - span;
  const near = (value: number): boolean => Math.abs(Math.abs(off) - value) <= tolerance[i];
  if (kerfMm <= 2 * tolerance[i] || !(near(kerfMm) || near(kerfMm / 2))) return undefined;
  const by = near(kerfMm) ? `one kerf (${mm(kerfMm)})` : `half a kerf (${mm(kerfMm / 2)})`;
  return { cause: 'wrong-edge', because: `wrong edge: ${tooLong(off)} by ${by}` };
}

function slotWidth(i: number, context: CauseContext): CauseFound | undefined {
  const span = context.lengths[i];
  if (span.kind !== 'span') return undefined;
  const off = span.valueMm - context.predicted[i];
  const slot = context.lengths.findIndex(
    (other, j) =>
      other.kind === 'opening' &&
      other.session === span.session &&
      runsAlong(span, other) &&
      Math.abs(Math.abs(off) - context.predicted[j]) <= context.tolerance[i],
  );
  if (slot < 0) return undefined;
  return {
    cause: 'wrong-edge',
    because: `wrong edge: ${tooLong(off)} by the width of ${nameOf(context.lengths[slot])}`,
  };
}

/** An opening that runs along the span's direction: its width can be what the span is off by. */
function runsAlong(span: Observation, opening: Observation): boolean {
  const cross = span.dx * opening.dy - span.dy * opening.dx;
  return Math.abs(cross) <= 1e-6 * Math.hypot(span.dx, span.dy) * Math.hypot(opening.dx, opening.dy);
}

/** Two neighbouring digits changed places: 10.05 typed as 10.50. */
function digitsSwapped(i: number, context: CauseContext): CauseFound | undefined {
  const { valueMm, resolutionMm } = context.lengths[i];
  if (!(resolutionMm > 0) || valueMm <= 0) return undefined;
  const decimals = Math.max(0, Math.min(4, Math.ceil(-Math.log10(resolutionMm) - 1e-9)));
  const digits = valueMm.toFixed(decimals).replace('.', '');
  const turned = [...digits.slice(1)].flatMap((digit, k): Meant[] => {
    if (digits[k] === digit) return [];
    const meantMm = Number(digits.slice(0, k) + digit + digits[k] + digits.slice(k + 2)) / 10 ** decimals;
    return [{ meantMm, cause: 'digits-swapped', because: 'two digits changed places', loosened: 0.5 }];
  });
  return firstThatFits(i, context, turned);
}

function rowSlip(i: number, context: CauseContext): CauseFound | undefined {
  const { lengths, predicted, tolerance } = context;
  const own = lengths[i];
  const neighbour = lengths
    .map((other, j) => ({ other, j, away: Math.abs(other.index - own.index) }))
    .filter(({ other, away }) => other.session === own.session && away > 0 && away <= ROWS_AWAY)
    .sort((a, b) => a.away - b.away)
    .find(({ j }) => Math.abs(own.valueMm - predicted[j]) <= tolerance[j] / 2);
  if (!neighbour) return undefined;
  return { cause: 'row-slip', because: `it is what ${nameOf(neighbour.other)} should read: a slip of the row` };
}

const WHOLE_MM = [1, 2, 5, 10, 20, 50, 100];

function wholeMillimetres(i: number, context: CauseContext): CauseFound | undefined {
  const { valueMm } = context.lengths[i];
  const whole = Math.round(valueMm - context.predicted[i]);
  if (!WHOLE_MM.includes(Math.abs(whole))) return undefined;
  const because = `it is off by ${Math.abs(whole)} mm exactly`;
  return firstThatFits(i, context, [{ meantMm: valueMm - whole, cause: 'whole-mm', because, loosened: 0.5 }]);
}

function otherEdge(i: number, context: CauseContext): CauseFound | undefined {
  const length = context.lengths[i];
  const off = Math.abs(length.valueMm - context.predicted[i]);
  if (length.kind !== 'span' || off > WIDEST_SLOT_MM || off < 3 * context.tolerance[i]) return undefined;
  return { cause: 'wrong-edge', because: `perhaps a wrong edge: it is off by ${mm(off)}, about the width of a slot` };
}

function nameOf(length: Observation): string {
  return length.reading.line === undefined ? length.feature.id : `${length.feature.id} (line ${length.reading.line})`;
}

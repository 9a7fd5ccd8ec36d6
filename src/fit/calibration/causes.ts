import { predictLength } from './length-model.js';
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

function sign(i: number, context: CauseContext): CauseFound | undefined {
  const value = context.lengths[i].valueMm;
  if (value >= 0 || !fits(-value, i, context)) return undefined;
  return { cause: 'sign', because: 'it is negative, and right without the minus', meantMm: -value };
}

function decimalSlip(i: number, context: CauseContext): CauseFound | undefined {
  return slip(i, context, () => 1);
}

/** A reading that was typed too small and then cut to the gauge's step has lost digits. */
function decimalSlipCutShort(i: number, context: CauseContext): CauseFound | undefined {
  return slip(i, context, (power) =>
    power > 0 ? 1 + (10 ** power * context.lengths[i].resolutionMm) / 2 / context.tolerance[i] : 1,
  );
}

function slip(i: number, context: CauseContext, loosened: (power: number) => number): CauseFound | undefined {
  const value = context.lengths[i].valueMm;
  for (const power of [1, -1, 2, -2, 3, -3]) {
    const meantMm = value * 10 ** power;
    if (meantMm > 0 && fits(meantMm, i, context, loosened(power))) {
      const places = Math.abs(power) === 1 ? 'one place' : `${Math.abs(power)} places`;
      return {
        cause: 'decimal-slip',
        because: `the decimal point slipped by ${places}: ${mm(meantMm)} would fit`,
        meantMm,
      };
    }
  }
  return undefined;
}

function units(i: number, context: CauseContext): CauseFound | undefined {
  const value = context.lengths[i].valueMm;
  const tries: [number, ReadingCause, string][] = [
    [25.4, 'inch-for-mm', 'it was read in inches'],
    [1 / 25.4, 'mm-for-inch', 'it was read in mm and entered as inches'],
    [0.0254, 'mil-for-mm', 'it was read in mil'],
    [1 / 0.0254, 'mm-for-inch', 'it was read in mm and entered as mil'],
  ];
  for (const [factor, cause, because] of tries) {
    const meantMm = value * factor;
    const loosened = factor === 25.4 ? 1 + inchStepMm(i, context) / 2 / context.tolerance[i] : 1;
    if (meantMm > 0 && fits(meantMm, i, context, loosened)) {
      return { cause, because: `${because}: ${mm(meantMm)} would fit`, meantMm };
    }
  }
  return undefined;
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

function kerf(i: number, context: CauseContext): CauseFound | undefined {
  const length = context.lengths[i];
  if (length.kind === 'vernier') return undefined;
  const off = length.valueMm - context.predicted[i];
  const along = predictLength({ ...length, kind: 'opening' }, context.parameters);
  const kerfMm = along - predictLength({ ...length, kind: 'span' }, context.parameters);
  const near = (value: number): boolean => Math.abs(Math.abs(off) - value) <= context.tolerance[i];
  if (kerfMm <= 2 * context.tolerance[i]) return undefined;
  const longer = off > 0 ? 'too long' : 'too short';
  if (near(kerfMm)) return { cause: 'wrong-edge', because: `wrong edge: ${longer} by one kerf (${mm(kerfMm)})` };
  if (near(kerfMm / 2))
    return { cause: 'wrong-edge', because: `wrong edge: ${longer} by half a kerf (${mm(kerfMm / 2)})` };
  return undefined;
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
  const longer = off > 0 ? 'too long' : 'too short';
  return { cause: 'wrong-edge', because: `wrong edge: ${longer} by the width of ${nameOf(context.lengths[slot])}` };
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
  for (let k = 0; k + 1 < digits.length; k += 1) {
    if (digits[k] === digits[k + 1]) continue;
    const turned = digits.slice(0, k) + digits[k + 1] + digits[k] + digits.slice(k + 2);
    const meantMm = Number(turned) / 10 ** decimals;
    if (fits(meantMm, i, context, 0.5)) {
      return { cause: 'digits-swapped', because: `two digits changed places: ${mm(meantMm)} would fit`, meantMm };
    }
  }
  return undefined;
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

function wholeMillimetres(i: number, context: CauseContext): CauseFound | undefined {
  const off = context.lengths[i].valueMm - context.predicted[i];
  const whole = Math.round(off);
  if (whole === 0 || Math.abs(off - whole) > context.tolerance[i] / 2) return undefined;
  const known = [1, 2, 5, 10, 20, 50, 100].includes(Math.abs(whole));
  if (!known) return undefined;
  const meantMm = context.lengths[i].valueMm - whole;
  return {
    cause: 'whole-mm',
    because: `it is off by ${Math.abs(whole)} mm exactly: ${mm(meantMm)} would fit`,
    meantMm,
  };
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

import type { DimensionalFeature } from '../coupon/features.js';
import { MM_PER_UNIT, type TypedLength, UNIT_NAMES } from './length.js';

/** What a reading is held against before there is a fit: by the design and what lasers do. */
const SPAN_SHARE = 0.03;
const SPAN_SLACK_MM = 0.3;
/** Wider kerfs than this are no cutting beam; narrower than 0 none at all. Slack for edges read badly. */
const WIDEST_KERF_MM = 0.6;
const EDGE_SLACK_MM = 0.12;
/** Once the machine is known to so much, a reading further away is questioned. */
const FITTED_SHARE = 0.002;
const FITTED_SLACK_MM = 0.08;
/** Half-widths (95 %) of scale and shear, and of the kerf, beyond which they question no reading: half of that slack. */
export const KNOWN_WITHIN = { share: FITTED_SHARE / 2, kerfMm: FITTED_SLACK_MM / 2 };

type Slip = readonly [factor: number, because: string];

const DECIMALS = [
  ...[10, 0.1].map((factor): Slip => [factor, 'is the decimal mark one place off?']),
  ...[100, 0.01].map((factor): Slip => [factor, 'is the decimal mark two places off?']),
];
const UNITS = [['mm', 'millimetres'], ...Object.entries(UNIT_NAMES)];

/** What may have slipped in a number that was taken to be in a unit of so many mm, and what its length is then multiplied by. */
function slipsIn(unitMm: number): readonly Slip[] {
  const others = UNITS.filter(([unit]) => MM_PER_UNIT[unit] !== unitMm);
  const because = others.map(([unit, name]): Slip => [MM_PER_UNIT[unit] / unitMm, `are these ${name}? Then write ${unit} behind the number`]); // biome-ignore format: one line
  return [...DECIMALS, ...because];
}

/** The same for each unit, by its mm. */
export const SLIPS = Object.fromEntries(UNITS.map(([unit]) => [String(MM_PER_UNIT[unit]), slipsIn(MM_PER_UNIT[unit])]));

/** What a slip leaves is no smaller share of what is expected: next to nothing is right for whatever may be closed. */
export const LEAST_SHARE = 0.25;

type Range = readonly [lowMm: number, highMm: number];

/** How long a feature can be read, mm: by the fit when there is one, else by its design. */
export function plausibleRange(feature: DimensionalFeature, expectedMm?: number): Range {
  if (expectedMm !== undefined) {
    const slack = FITTED_SLACK_MM + FITTED_SHARE * Math.abs(expectedMm);
    return [Math.max(0, expectedMm - slack), expectedMm + slack];
  }
  const { kind, nominalMm } = feature;
  const share = SPAN_SHARE * nominalMm;
  if (kind === 'span') return [nominalMm - share - SPAN_SLACK_MM, nominalMm + share + SPAN_SLACK_MM];
  if (kind === 'opening') return [nominalMm - share - EDGE_SLACK_MM, nominalMm + share + WIDEST_KERF_MM];
  return [Math.max(0, nominalMm - share - WIDEST_KERF_MM), nominalMm + share + EDGE_SLACK_MM];
}

/**
 * A question when a reading can't be right, as one sentence; undefined when there is nothing to ask.
 *
 * @param typed - the length, and the unit that its number was taken to be in
 * @param others - features of the coupon, with what they are expected to read where that is known; a reading that is
 *   right for a neighbour is one row off
 */
export function questionReading(
  feature: DimensionalFeature,
  { valueMm, unit }: Pick<TypedLength, 'valueMm' | 'unit'>,
  expectedMm: number | undefined,
  others: readonly { readonly feature: DimensionalFeature; readonly expectedMm?: number }[] = [],
): string | undefined {
  const range = plausibleRange(feature, expectedMm);
  const aboutMm = expectedMm ?? feature.nominalMm;
  if (isIn(valueMm, range)) return undefined;
  const off = (by: number): number => Math.abs(Math.log((valueMm * by) / aboutMm));
  const [[factor, because] = []] = slipsIn(MM_PER_UNIT[unit ?? 'mm'])
    .filter(([by]) => isIn(valueMm * by, range) && valueMm * by >= LEAST_SHARE * aboutMm)
    .sort(([a], [b]) => off(a) - off(b));
  const says = `${round(valueMm)} mm, where about ${aboutMm.toFixed(2)} mm is expected`;
  if (factor !== undefined) return `${says}: ${because} (that would be ${round(valueMm * factor)} mm)`;
  const place = others.findIndex(({ feature: other }) => other.id === feature.id);
  const near = others
    .map((other, i) => ({ ...other, away: Math.abs(i - place) }))
    .filter(({ feature: { id, kind }, away }) => id !== feature.id && kind === feature.kind && away <= 3)
    .sort((a, b) => a.away - b.away)
    .find((other) => isIn(valueMm, plausibleRange(other.feature, other.expectedMm)));
  if (near) return `${says}: that is right for ${near.feature.id}; is it the right place?`;
  return `${says}: measured between the edges that are named?`;
}

const isIn = (value: number, [low, high]: Range): boolean => value >= low && value <= high;
const round = (mm: number): string => `${Number(mm.toPrecision(4))}`;

/**
 * Units as a person types them in a cell. A table of its own instead of mathjs's units: importing mathjs takes
 * 0.16 s at best, as long as the whole `fit` of 150 readings; the factors are exact by definition (inch = 25.4 mm).
 */
export const MM_PER_UNIT: Readonly<Record<string, number>> = {
  '': 1,
  mm: 1,
  cm: 10,
  m: 1000,
  um: 0.001,
  µm: 0.001,
  μm: 0.001,
  micron: 0.001,
  microns: 0.001,
  mil: 0.0254,
  mils: 0.0254,
  thou: 0.0254,
  in: 25.4,
  inch: 25.4,
  inches: 25.4,
  '"': 25.4,
  '″': 25.4,
};

export const LENGTH_UNITS = 'mm, um, cm, mil, thou, in';

const NUMBER = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d+)?)\s*([a-zµμ"″]*)$/i;

/** How a cell's number was written, as far as it matters. */
export interface TypedLength {
  readonly valueMm: number;
  readonly mark: '.' | ',' | undefined;
  /** 1,234: a decimal comma, or a separator between thousands? */
  readonly ambiguous: boolean;
  /** No unit was typed, so it was taken as mm. */
  readonly bare: boolean;
  /** As a gauge would have it: that in which most gauges show lengths, other than mm. */
  readonly unit?: GaugeUnit;
}

/** Units that gauges show, besides mm. */
export const GAUGE_UNITS = ['in', 'mil', 'um'] as const;
export type GaugeUnit = (typeof GAUGE_UNITS)[number];

/** How a unit is called, and how many digits behind the point gauges show of it. */
export const UNIT_NAMES: Readonly<Record<GaugeUnit, string>> = { in: 'inches', mil: 'mils', um: 'micrometres' };
const SHOWN_DIGITS: Readonly<Record<GaugeUnit, number>> = { in: 4, mil: 1, um: 0 };

/** How many of its unit a gauge is about to show, as a sentence behind another one. */
export function inGaugeUnit(lengthMm: number, unit: GaugeUnit): string {
  return ` In ${UNIT_NAMES[unit]}, as its gauge shows it: about ${asShown(lengthMm, unit)}.`;
}

/** How many of a unit a length is, with as many digits as gauges show. */
export const asShown = (lengthMm: number, unit: GaugeUnit): string =>
  (lengthMm / MM_PER_UNIT[unit]).toFixed(SHOWN_DIGITS[unit]);

/** A length as typed in a cell, decimal point or comma: `0.31`, `0,31`, `310 um`, `12.2 mil`, `0.5 in`; undefined when it is none. */
export function parseLength(text: string): TypedLength | undefined {
  const match = NUMBER.exec(text.trim().replace(/\u2212/g, '-'));
  if (!match) return undefined;
  const factor = MM_PER_UNIT[match[2].toLowerCase()];
  if (factor === undefined) return undefined;
  const number = Number(match[1].replace(',', '.'));
  // What doubles add to the typed digits goes: 310 um is 0.31, not 0.31000000000000005, and 3 mil 0.0762.
  const valueMm = Number((number * factor).toPrecision(12));
  const mark = match[1].includes(',') ? ',' : match[1].includes('.') ? '.' : undefined;
  const ambiguous = /^[+-]?[1-9]\d{0,2},\d{3}$/.test(match[1]);
  const unit = GAUGE_UNITS.find((one) => MM_PER_UNIT[one] === factor);
  if (!Number.isFinite(valueMm)) return undefined;
  return { valueMm, mark, ambiguous, bare: match[2] === '', ...(unit ? { unit } : {}) };
}

/** A length as typed, with the unit that its gauge shows where none was typed. */
export const withGaugeUnit = (typed: string, unit: GaugeUnit | undefined): string =>
  unit && parseLength(typed)?.bare ? `${typed}${unit}` : typed;

/** In how many seconds a speed's length is gone. */
const SECONDS: Readonly<Record<string, number>> = { s: 1, sec: 1, min: 60, m: 60 };

export const SPEED_UNITS = 'mm/s, mm/min, m/min, in/s, in/min';

/** The number at the start of a text, decimal point or comma, and what follows it in small letters without blanks. */
function numberAndUnit(text: string): [value: number, unit: string] | undefined {
  const match = /^(\d+(?:[.,]\d*)?|[.,]\d+)\s*([^\d\s.,].*)?$/.exec(text.trim());
  if (!match) return undefined;
  const value = Number(match[1].replace(',', '.'));
  return Number.isFinite(value) ? [value, (match[2] ?? '').toLowerCase().replace(/\s+/g, '')] : undefined;
}

/** A speed in mm/s: `100`, `100 mm/s`, `6000 mm/min`, `4 in/s`; undefined when it is none. */
export function parseSpeed(text: string): number | undefined {
  const [value, unit] = numberAndUnit(text) ?? [];
  if (value === undefined || unit === undefined) return undefined;
  const [length, time] = unit === '' ? ['mm', 's'] : unit.split('/');
  // No machine is set finer, and nobody can read 766.6666666666666.
  const speed = Number(((value * MM_PER_UNIT[length]) / SECONDS[time]).toPrecision(6));
  return length === '' || Number.isNaN(speed) ? undefined : speed;
}

/** A percentage: `45`, `45 %`, `45,5%`; undefined when it is none. */
export function parsePercentage(text: string): number | undefined {
  const [value, unit] = numberAndUnit(text) ?? [];
  return unit === '' || unit === '%' || unit === 'percent' ? value : undefined;
}

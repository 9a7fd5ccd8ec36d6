/** Speeds as machines show them. An inch is 25.4 mm exactly. */
const MM_S_PER_UNIT: Readonly<Record<string, number>> = {
  '': 1,
  'mm/s': 1,
  'mm/sec': 1,
  'cm/s': 10,
  'm/s': 1000,
  'in/s': 25.4,
  'in/sec': 25.4,
  'inch/s': 25.4,
};
const PER_MINUTE: Readonly<Record<string, number>> = {
  'mm/min': 1,
  'mm/m': 1,
  'cm/min': 10,
  'm/min': 1000,
  'in/min': 25.4,
  'inch/min': 25.4,
};

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
  const perSecond = MM_S_PER_UNIT[unit];
  if (perSecond !== undefined) return value * perSecond;
  const perMinute = PER_MINUTE[unit];
  return perMinute === undefined ? undefined : (value * perMinute) / 60;
}

/** A percentage: `45`, `45 %`, `45,5%`; undefined when it is none. */
export function parsePercentage(text: string): number | undefined {
  const [value, unit] = numberAndUnit(text) ?? [];
  return unit === '' || unit === '%' || unit === 'percent' ? value : undefined;
}

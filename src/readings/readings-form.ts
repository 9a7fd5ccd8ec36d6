import type { Problem } from '../errors.js';
import type { CsvRecord } from './csv-rows.js';
import { LENGTH_UNITS, parseLength, parsePercentage, parseSpeed, SPEED_UNITS } from './length.js';

/** How a coupon was cut and read, from the comment lines of its readings file. */
export interface ReadingsForm {
  readonly film?: string;
  readonly thicknessMm?: number;
  readonly powerPercent?: number;
  readonly speedMmS?: number;
  readonly passes?: number;
  /** YYYY-MM-DD. */
  readonly date?: string;
  /** Name of the gauge, for rows that name none. */
  readonly gauge?: string;
  /** One step of that gauge, for rows that state none. */
  readonly resolutionMm?: number;
}

type Line = 'film' | 'thickness' | 'power' | 'speed' | 'passes' | 'date' | 'gauge';

/** The lines of the form as a blank readings file shows them; what stands in brackets is only an example. */
export const FORM_LINES: readonly (readonly [line: Line, example: string])[] = [
  ['film', 'such as PET'],
  ['thickness', 'such as 0.1 mm'],
  ['power', 'such as 45 %'],
  ['speed', 'such as 100 mm/s'],
  ['passes', 'such as 1'],
  ['date', 'such as 2031-04-09'],
  ['gauge', 'such as caliper 0.01 mm'],
];

/** How each line is read; undefined when it can't be. */
const READERS: Readonly<Record<Line, (text: string) => ReadingsForm | undefined>> = {
  film: (text) => ({ film: text }),
  thickness: (text) => positive(parseLength(text)?.valueMm, (thicknessMm) => ({ thicknessMm })),
  power: (text) =>
    positive(parsePercentage(text), (powerPercent) => (powerPercent <= 100 ? { powerPercent } : undefined)),
  speed: (text) => positive(parseSpeed(text), (speedMmS) => ({ speedMmS })),
  passes: (text) => (/^[1-9]\d*$/.test(text) ? { passes: Number(text) } : undefined),
  date: (text) => positive(dayOf(text), (date) => ({ date })),
  gauge: gaugeOf,
};

const EXPECTED: Readonly<Record<Line, string>> = {
  film: 'a kind of film',
  thickness: `a length > 0 such as 0.1 mm (units: ${LENGTH_UNITS})`,
  power: 'a power above 0 and up to 100 %',
  speed: `a speed > 0 such as 100 mm/s (units: ${SPEED_UNITS})`,
  passes: 'a whole number of passes',
  date: 'a day as YYYY-MM-DD',
  gauge: 'a gauge such as caliper 0.01 mm',
};

/** The form in one line of files made by earlier versions; six values behind one colon can't be told apart for certain. */
const ONE_LINE = /^film, *thickness, *power, *speed, *passes, *date$/i;

/** Of a day, or of a number above 0, what `wrap` makes of it. */
function positive<V extends number | string, T>(value: V | undefined, wrap: (value: V) => T): T | undefined {
  return value === undefined || (typeof value === 'number' && !(value > 0)) ? undefined : wrap(value);
}

function gaugeOf(text: string): ReadingsForm | undefined {
  // "caliper 0.01 mm": the last part that reads as a length is its step.
  const match = /^(.*?)[\s,:]*((?:\d|[.,]\d)[^a-z]*\s*[a-zµμ"″]*)$/i.exec(text);
  const stepMm = match ? parseLength(match[2])?.valueMm : undefined;
  if (!match || stepMm === undefined) return { gauge: text };
  if (!(stepMm > 0)) return undefined;
  return { ...(match[1] === '' ? {} : { gauge: match[1] }), resolutionMm: stepMm };
}

/** A day as YYYY-MM-DD. Spreadsheets rewrite days in the manner of their country: taken only where it can mean one day. */
export function dayOf(text: string): string | undefined {
  const iso = /^(\d{4})-(\d{1,2})-(\d{1,2})$/.exec(text);
  if (iso) return validDay(iso[1], iso[2], iso[3]);
  const dotted = /^(\d{1,2})\.(\d{1,2})\.(\d{4})$/.exec(text);
  if (dotted) return validDay(dotted[3], dotted[2], dotted[1]);
  const slashed = /^(\d{1,2})\/(\d{1,2})\/(\d{4})$/.exec(text);
  if (!slashed) return undefined;
  const [, first, second, year] = slashed;
  const days = new Set([validDay(year, first, second), validDay(year, second, first)]);
  days.delete(undefined);
  return days.size === 1 ? [...days][0] : undefined;
}

function validDay(year: string, month: string, day: string): string | undefined {
  const text = `${year}-${month.padStart(2, '0')}-${day.padStart(2, '0')}`;
  const date = new Date(`${text}T00:00:00Z`);
  return !Number.isNaN(date.getTime()) && date.toISOString().startsWith(text) ? text : undefined;
}

/** What stands behind the colon of a form's line, or in the cell after it; undefined when the record is no such line. */
function filledLine({ cells }: CsvRecord, delimiter: string): { key: string; value: string } | undefined {
  const whole = cells.join(delimiter);
  const colon = whole.indexOf(':');
  if (colon < 0) return undefined;
  const key = whole
    .slice(1, colon)
    .replace(/\(.*\)/, '')
    .trim();
  const next = cells[0].endsWith(':') ? cells.slice(1).find((cell) => cell !== '') : undefined;
  const rest = whole.slice(colon + 1).trim();
  let value = next ?? rest;
  while (value.endsWith(delimiter)) value = value.slice(0, -delimiter.length).trim();
  return { key: key.toLowerCase(), value: value.trim() };
}

/**
 * Reads the form that a readings file holds in its comment lines.
 *
 * @param problems - BAD_FORM is added for every line that can't be read, REPEATED_FORM for one that stands twice
 */
export function readForm(
  records: readonly CsvRecord[],
  delimiter: string,
  file: string,
  problems: Problem[],
): ReadingsForm {
  let form: ReadingsForm = {};
  const seen = new Map<string, string>();
  for (const record of records) {
    const filled = record.isComment ? filledLine(record, delimiter) : undefined;
    if (!filled || filled.value === '') continue;
    const { key, value } = filled;
    const place = { file, line: record.line, key };
    const oneLine = ONE_LINE.test(key);
    if (!oneLine && !(key in READERS)) continue;
    const read = oneLine ? undefined : READERS[key as Line](value);
    const before = seen.get(key);
    if (!read) {
      const expected = oneLine ? 'each of these in a line of its own' : EXPECTED[key as Line];
      const hint = oneLine ? 'Write # film: …, # thickness: … and so on.' : 'Correct it, or leave it empty.';
      problems.push({ code: 'BAD_FORM', place, message: `expected ${expected}; found "${value}".`, hint });
    } else if (before !== undefined && before !== value) {
      problems.push({
        code: 'REPEATED_FORM',
        place,
        message: `this stands here twice: "${before}" and "${value}".`,
        hint: 'Keep one of them.',
      });
    } else form = { ...form, ...read };
    seen.set(key, value);
  }
  return form;
}

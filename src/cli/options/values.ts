import { InvalidArgumentError } from 'commander';
import type { DrilledHole } from '../../artwork/drill/drilled-hole.js';
import type { KnownDistance } from '../../artwork/types.js';
import type { ExportFormat } from '../../export/export-formats.js';
import type { FilmSide } from '../../layout/types.js';
import { type ProjectGauge, THICKEST_FILM_MM } from '../../project/project.js';
import { parseLength, parsePercentage, parseSpeed, SPEED_UNITS } from '../../readings/length.js';
import { dayOf } from '../../readings/readings-form.js';

/**
 * A length as a person types it, in mm, decimal point or comma; undefined when it is none, and when a comma may part
 * thousands (1,234).
 */
function lengthMm(text: string): number | undefined {
  const length = parseLength(text);
  return length?.ambiguous ? undefined : length?.valueMm;
}

/** The parts of a value of two: at an x, else at a comma that can't be a decimal mark. */
function partsOf(text: string): string[] {
  if (/[x×;]/i.test(text)) return text.split(/\s*[x×;]\s*/i);
  return /^0,\d+\s*[a-zµμ]*$/i.test(text.trim()) ? [text] : text.split(/\s*,\s*/);
}

/** An option's value as a length > 0 in mm: 0.31, "310 um", "12.2 mil", "0.5 in". */
export function parsePositiveMm(text: string): number {
  const value = lengthMm(text);
  if (value === undefined || !(value > 0) || !Number.isFinite(value)) {
    throw new InvalidArgumentError(`Expected a length > 0 such as 0.1, 100um or 4mil; found "${text}".`);
  }
  return value;
}

/** A film's thickness in mm. */
export function parseThicknessMm(text: string): number {
  const value = parsePositiveMm(text);
  if (value <= THICKEST_FILM_MM) return value;
  throw new InvalidArgumentError(
    `Expected the thickness of a film, such as 0.1, 100um or 4mil; found "${text}", which is ${value} mm.`,
  );
}

/** An option's value as a length >= 0 in mm. */
export function parseMm(text: string): number {
  const value = lengthMm(text);
  if (value === undefined || !(value >= 0) || !Number.isFinite(value)) {
    throw new InvalidArgumentError(`Expected a length >= 0 such as 5, 0.2in or 120um; found "${text}".`);
  }
  return value;
}

function pair(text: string, what: string, example: string, read: (part: string) => number): { x: number; y: number } {
  const parts = partsOf(text);
  const values = parts.map(read);
  if (parts.length > 2 || values.some((v) => !(v > 0) || !Number.isFinite(v))) {
    throw new InvalidArgumentError(`Expected ${what}, for example ${example}; found "${text}".`);
  }
  return { x: values[0], y: values[1] ?? values[0] };
}

/** A pitch, mm: one number, or X and Y as 0.05x0.0254. */
export function parsePitch(text: string): { x: number; y: number } {
  return pair(text, 'one length > 0 or two (X and Y)', '0.0254 or 0.05x0.0254', (part) => lengthMm(part) ?? Number.NaN);
}

/** Dots per inch: one number, or X and Y as 600x1200. */
export function parseDpi(text: string): { x: number; y: number } {
  return pair(text, 'one number of dots per inch > 0 or two (X and Y)', '1000 or 600x1200', Number);
}

/** A size, mm: width x height. */
export function parseSize(text: string): { widthMm: number; heightMm: number } {
  if (!/[x×,]/i.test(text)) {
    throw new InvalidArgumentError(`Expected width x height, for example 210x297; found "${text}".`);
  }
  const { x, y } = pair(text, 'width x height in mm', '210x297', (part) => lengthMm(part) ?? Number.NaN);
  return { widthMm: x, heightMm: y };
}

/** A number > 0. */
export function parsePositive(text: string): number {
  const value = Number(text);
  if (text.trim() === '' || !(value > 0) || !Number.isFinite(value)) {
    throw new InvalidArgumentError(`Expected a number > 0; found "${text}".`);
  }
  return value;
}

/** A power in percent, above 0 and up to 100: 45, "45 %". */
export function parsePowerPercent(text: string): number {
  const value = parsePercentage(text);
  if (value === undefined || !(value > 0 && value <= 100)) {
    throw new InvalidArgumentError(`Expected a power above 0 and up to 100 such as 45 or 45%; found "${text}".`);
  }
  return value;
}

/** A speed in mm/s: 100, 6000mm/min, 4in/s. */
export function parseSpeedMmS(text: string): number {
  const value = parseSpeed(text);
  if (value === undefined || !(value > 0)) {
    throw new InvalidArgumentError(
      `Expected a speed > 0 in ${SPEED_UNITS}, such as 100 or 6000mm/min; found "${text}".`,
    );
  }
  return value;
}

/** A list of values parted by commas, semicolons or blanks; a blank before a unit parts nothing. */
export const parseListOf =
  (read: (part: string) => number) =>
  (text: string): number[] =>
    text
      .trim()
      .split(/\s*[,;]\s*|\s+(?=[\d.])/)
      .map(read);

/** A day as YYYY-MM-DD. */
export function parseDay(text: string): string {
  const day = dayOf(text);
  if (day === undefined) {
    throw new InvalidArgumentError(`Expected a day as YYYY-MM-DD, for example 2031-04-09; found "${text}".`);
  }
  return day;
}

/** A whole number >= 1. */
export function parseCount(text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 1) {
    throw new InvalidArgumentError(`Expected a whole number >= 1; found "${text}".`);
  }
  return value;
}

/** A reader of a list of formats, each one of those taken; "all" stands for them. */
export const parseFormats =
  (taken: readonly ExportFormat[]) =>
  (text: string): ExportFormat[] => {
    const named = text
      .toLowerCase()
      .split(/[,;\s]+/)
      .filter((part) => part !== '');
    const unknown = named.find((name) => name !== 'all' && !taken.some((format) => format === name));
    if (unknown !== undefined || named.length === 0) {
      throw new InvalidArgumentError(
        `Expected a comma list of ${taken.join(', ')} or all; found "${unknown ?? text}".`,
      );
    }
    return taken.filter((format) => named.includes('all') || named.includes(format));
  };

/** Two opening numbers and the distance of their centres. */
export function parseKnownDistance(text: string): KnownDistance {
  const [from, to, distance] = text.split(/[,;:]/).map((part) => part.trim());
  const distanceMm = distance === undefined ? undefined : lengthMm(distance);
  const isNumber = (part: string): boolean => Number.isInteger(Number(part)) && Number(part) >= 1;
  if (!(isNumber(from) && isNumber(to) && distanceMm !== undefined && distanceMm > 0)) {
    throw new InvalidArgumentError(
      `Expected two opening numbers and the distance of their centres in mm, for example 3,17,25.4; found "${text}".`,
    );
  }
  return { from: Number(from), to: Number(to), distanceMm };
}

/** Numbers as reports print them: 1137,1200-1214. */
export function parseNumbers(text: string, before: readonly number[] = []): number[] {
  const numbers = text.split(',').flatMap((part) => {
    const [, from, to = from] = /^\s*(\d{1,7})\s*(?:[-–]\s*(\d{1,7})\s*)?$/.exec(part) ?? [];
    const [first, last] = [Number(from), Number(to)];
    if (!(first >= 1 && last >= first)) {
      throw new InvalidArgumentError(`Expected numbers of openings, for example 1137,1200-1214; found "${text}".`);
    }
    return Array.from({ length: last - first + 1 }, (_, i) => first + i);
  });
  return [...new Set([...before, ...numbers])].sort((p, q) => p - q);
}

/** Names parted by commas; more with each time that the option is given. */
export const parseNames = (text: string, before: readonly string[] = []): string[] => [
  ...before,
  ...text.split(',').map((name) => name.trim()),
];

export function parseIds(text: string, before?: readonly string[]): string[] {
  if (parseNames(text).includes('')) {
    throw new InvalidArgumentError(`Expected feature ids parted by commas, for example RX1,LA7; found "${text}".`);
  }
  return parseNames(text, before);
}

/** A length that somebody measured with another gauge. */
export interface ReferenceValue {
  readonly id: string;
  readonly readingMm: number;
}

export function parseReference(text: string, before: readonly ReferenceValue[] = []): ReferenceValue[] {
  const at = text.indexOf('=');
  const readingMm = at > 0 ? lengthMm(text.slice(at + 1)) : undefined;
  if (readingMm === undefined || !(readingMm > 0)) {
    throw new InvalidArgumentError(`Expected a feature and what it reads, such as RA0-6=139.92; found "${text}".`);
  }
  return [...before, { id: text.slice(0, at).trim(), readingMm }];
}

/** A gauge by name and step: "caliper 0.01", caliper:0.01. */
export function parseGauge(text: string): ProjectGauge {
  const match = /^\s*(.*?)[\s:=]+([\d.,].*)$/.exec(text);
  const resolutionMm = match ? lengthMm(match[2]) : undefined;
  if (!match || match[1] === '' || resolutionMm === undefined || !(resolutionMm > 0 && resolutionMm <= 1)) {
    throw new InvalidArgumentError(
      `Expected a name and a step, such as "caliper 0.01" or loupe:0.05; found "${text}".`,
    );
  }
  return { name: match[1], resolutionMm };
}

export const parseGauges = (text: string, before: readonly ProjectGauge[] = []): ProjectGauge[] => [
  ...before,
  parseGauge(text),
];

/** A place on a canvas, mm. */
export function parseAt(text: string): { x: number; y: number } {
  const [x, y, more] = text.split(/\s*[,x]\s*/).map(lengthMm);
  if (x === undefined || y === undefined || more !== undefined || x < 0 || y < 0) {
    throw new InvalidArgumentError(`Expected two lengths >= 0, for example 20,15; found "${text}".`);
  }
  return { x, y };
}

/** A place in the artwork's coordinates, mm. */
export function parsePlace(text: string): { x: number; y: number } {
  const [x, y, more] = text.split(',').map((part) => {
    const value = lengthMm(part);
    if (value === undefined) throw new InvalidArgumentError(`Expected a length in mm; found "${part}".`);
    return value;
  });
  if (x === undefined || y === undefined || more !== undefined) {
    throw new InvalidArgumentError(`Expected two lengths as x,y, for example 0,0; found "${text}".`);
  }
  return { x, y };
}

export function parseGrey(text: string): number {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 0 || value > 254) {
    throw new InvalidArgumentError(`Expected a whole number from 0 (full power) to 254; found "${text}".`);
  }
  return value;
}

export function parseHole(text: string, before: readonly DrilledHole[] = []): DrilledHole[] {
  const [x, y, d, more] = text.split(',').map((part) => lengthMm(part));
  if (x === undefined || y === undefined || d === undefined || more !== undefined || d <= 0) {
    throw new InvalidArgumentError(
      `Expected centre and diameter in mm as x,y,d, for example 3.5,3.5,3.2; found "${text}".`,
    );
  }
  return [...before, { x, y, diameterMm: d }];
}

export const parseDiameters = (text: string): number[] => text.split(',').map(parsePositiveMm);

/** A side of the film and how much more of it. */
export function parseHandle(text: string): { side: FilmSide; widthMm: number } {
  const [side, width] = text.split(/[:,]/);
  const widthMm = lengthMm(width ?? '25');
  if (!['left', 'right', 'top', 'bottom'].includes(side) || widthMm === undefined || widthMm < 0) {
    throw new InvalidArgumentError(`Expected a side and a width in mm, for example top:25; found "${text}".`);
  }
  return { side: side as FilmSide, widthMm };
}

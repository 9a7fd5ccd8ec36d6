import { InvalidArgumentError } from 'commander';
import type { ExportFormat } from '../export/export-formats.js';
import { THICKEST_FILM_MM } from '../project/project.js';
import { parseLength } from '../readings/length.js';
import { dayOf } from '../readings/readings-form.js';
import { parsePercentage, parseSpeed, SPEED_UNITS } from '../readings/speed.js';

/**
 * A length as a person types it, in mm, decimal point or comma; undefined when it is none, and when a comma may part
 * thousands (1,234).
 */
export function lengthMm(text: string): number | undefined {
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
export function parseListOf(text: string, read: (part: string) => number): number[] {
  return text
    .trim()
    .split(/\s*[,;]\s*|\s+(?=[\d.])/)
    .map(read);
}

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

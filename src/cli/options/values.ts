import { InvalidArgumentError } from 'commander';
import type { DrilledHole } from '../../artwork/drill/drill-program.js';
import type { KnownDistance } from '../../artwork/types.js';
import type { ExportFormat } from '../../export/export-formats.js';
import type { FilmSide } from '../../layout/types.js';
import { THICKEST_FILM_MM } from '../../machine/film-hazards.js';
import type { ProjectGauge } from '../../project/project.js';
import { parseLength, parsePercentage, parseSpeed, SPEED_UNITS } from '../../readings/length.js';
import { dayOf } from '../../readings/readings-form.js';

/** Reads an option's value; what can't be read is refused, and it is said what was expected. */
const reading =
  <T>(expected: string, read: (text: string) => T | undefined) =>
  (text: string): T => {
    const value = read(text);
    if (value !== undefined) return value;
    throw new InvalidArgumentError(`Expected ${expected}; found "${text}".`);
  };

/** The same for an option that may be given several times: each adds to those before. */
const gathering = <T>(read: (text: string) => readonly T[]) => {
  return (text: string, before: readonly T[] = []): T[] => [...before, ...read(text)];
};

/** A number that fits, finite; undefined for others. */
const fitting = (value: number | undefined, fits: (value: number) => boolean): number | undefined =>
  value !== undefined && Number.isFinite(value) && fits(value) ? value : undefined;
const isAbove0 = (value: number): boolean => value > 0;

/**
 * A length as a person types it, in mm, decimal point or comma; undefined when it is none, and when a comma may part
 * thousands (1,234).
 */
function lengthMm(text: string): number | undefined {
  const length = parseLength(text);
  return length?.ambiguous ? undefined : length?.valueMm;
}

/** All lengths of a list; undefined when one is none. */
function lengthsMm(parts: readonly string[], count: number): number[] | undefined {
  const lengths = parts.map(lengthMm).filter((length) => length !== undefined);
  return parts.length === count && lengths.length === count ? lengths : undefined;
}

/** The parts of a value of two: at an x, else at a comma that can't be a decimal mark. */
function partsOf(text: string): string[] {
  if (/[x×;]/i.test(text)) return text.split(/\s*[x×;]\s*/i);
  return /^0,\d+\s*[a-zµμ]*$/i.test(text.trim()) ? [text] : text.split(/\s*,\s*/);
}

/** One value for X and Y, or two. */
function pair(text: string, read: (part: string) => number | undefined): { x: number; y: number } | undefined {
  const values = partsOf(text).map((part) => fitting(read(part), isAbove0));
  const [x, y = x] = values;
  return values.length > 2 || x === undefined || values.includes(undefined) ? undefined : { x, y: y as number };
}

/** A length > 0 in mm: 0.31, "310 um", "12.2 mil", "0.5 in". */
export const positiveMm = reading('a length > 0 such as 0.1, 100um or 4mil', (text) =>
  fitting(lengthMm(text), isAbove0),
);

/** A film's thickness in mm. */
export function thicknessMm(text: string): number {
  const value = positiveMm(text);
  if (value <= THICKEST_FILM_MM) return value;
  throw new InvalidArgumentError(
    `Expected the thickness of a film, such as 0.1, 100um or 4mil; found "${text}", which is ${value} mm.`,
  );
}

/** A length >= 0 in mm. */
export const mm = reading('a length >= 0 such as 5, 0.2in or 120um', (text) =>
  fitting(lengthMm(text), (mm) => mm >= 0),
);

/** A pitch, mm: one number, or X and Y as 0.05x0.0254. */
export const pitch = reading('one length > 0 or two (X and Y), for example 0.0254 or 0.05x0.0254', (text) =>
  pair(text, lengthMm),
);

/** Dots per inch: one number, or X and Y as 600x1200. */
export const dpi = reading(
  'one number of dots per inch > 0 or two (X and Y), for example 1000 or 600x1200',
  // A comma may be one of decimals: 600,5 is no 600 by 5.
  (text) => (text.includes(',') ? undefined : pair(text, Number)),
);

const bothSizes = reading('width x height in mm, for example 210x297', (text) => pair(text, lengthMm));
/** A size, mm: width x height. */
export const size = (text: string): { widthMm: number; heightMm: number } => {
  reading('width x height, for example 210x297', (given) => /[x×,]/i.test(given) || undefined)(text);
  const { x, y } = bothSizes(text);
  return { widthMm: x, heightMm: y };
};

/** A number > 0. */
export const positive = reading('a number > 0', (text) =>
  text.trim() === '' ? undefined : fitting(Number(text), isAbove0),
);

/** A power in percent: 45, "45 %". */
export const powerPercent = reading('a power above 0 and up to 100 such as 45 or 45%', (text) =>
  fitting(parsePercentage(text), (percent) => percent > 0 && percent <= 100),
);

/** A speed in mm/s: 100, 6000mm/min, 4in/s. */
export const speedMmS = reading(`a speed > 0 in ${SPEED_UNITS}, such as 100 or 6000mm/min`, (text) =>
  fitting(parseSpeed(text), isAbove0),
);

/** A list of values parted by commas, semicolons or blanks; a blank before a unit parts nothing. */
export const eachOf =
  (read: (part: string) => number) =>
  (text: string): number[] =>
    text
      .trim()
      .split(/\s*[,;]\s*|\s+(?=[\d.])/)
      .map(read);

export const day = reading('a day as YYYY-MM-DD, for example 2031-04-09', dayOf);

/** A whole number >= 1. */
export const wholeNumber = reading('a whole number >= 1', (text) =>
  fitting(Number(text), (n) => Number.isInteger(n) && n >= 1),
);

/** A reader of a list of formats, each one of those taken; "all" stands for them. */
export const formats =
  (taken: readonly ExportFormat[]) =>
  (text: string): ExportFormat[] => {
    const named = text
      .toLowerCase()
      .split(/[,;\s]+/)
      .filter((part) => part !== '');
    const unknown = named.find((name) => name !== 'all' && !taken.some((format) => format === name));
    if (unknown !== undefined || named.length === 0) {
      // As it was typed, with the words around it that are no names either.
      const shown = text.split(/\s*[,;]\s*/).find((part) => part.toLowerCase().includes(unknown ?? ' '));
      throw new InvalidArgumentError(`Expected a comma list of ${taken.join(', ')} or all; found "${shown ?? text}".`);
    }
    return taken.filter((format) => named.includes('all') || named.includes(format));
  };

export const knownDistance = reading(
  'two opening numbers and the distance of their centres in mm, for example 3,17,25.4',
  (text): KnownDistance | undefined => {
    const [from, to, distance = ''] = text.split(/[,;:]/).map((part) => part.trim());
    const distanceMm = fitting(lengthMm(distance), isAbove0);
    const [first, last] = [from, to].map((part) => fitting(Number(part), (n) => Number.isInteger(n) && n >= 1));
    if (first === undefined || last === undefined || distanceMm === undefined) return undefined;
    return { from: first, to: last, distanceMm };
  },
);

/** Numbers as reports print them: 1137,1200-1214. */
export function openingNumbers(text: string, before: readonly number[] = []): number[] {
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

const namesIn = (text: string): string[] => text.split(',').map((name) => name.trim());
/** Names parted by commas. */
export const names = gathering(namesIn);
export const ids = gathering(
  reading('feature ids parted by commas, for example RX1,LA7', (text) =>
    namesIn(text).includes('') ? undefined : namesIn(text),
  ),
);

/** Lengths that somebody measured with another gauge, by the feature. */
export const reference = gathering(
  reading('a feature and what it reads, such as RA0-6=139.92', (text) => {
    const at = text.indexOf('=');
    const readingMm = at > 0 ? lengthMm(text.slice(at + 1)) : undefined;
    return readingMm !== undefined && readingMm > 0 ? [{ id: text.slice(0, at).trim(), readingMm }] : undefined;
  }),
);

/** A gauge by name and step: "caliper 0.01", caliper:0.01. */
export const gauge = reading(
  'a name and a step, such as "caliper 0.01" or loupe:0.05',
  (text): ProjectGauge | undefined => {
    const [, name = '', step = ''] = /^\s*(.*?)[\s:=]+([\d.,].*)$/.exec(text) ?? [];
    const resolutionMm = fitting(lengthMm(step), (mm) => mm > 0 && mm <= 1);
    const unit = parseLength(step)?.unit;
    return name === '' || resolutionMm === undefined ? undefined : { name, resolutionMm, ...(unit ? { unit } : {}) };
  },
);
export const gauges = gathering((text) => [gauge(text)]);

/** A place on a canvas, mm. */
export const at = reading('two lengths >= 0, for example 20,15', (text) => {
  const [x = -1, y = -1] = lengthsMm(text.split(/\s*[,x]\s*/), 2) ?? [];
  return x < 0 || y < 0 ? undefined : { x, y };
});

/** A place in the artwork's coordinates, mm. */
export const place = reading('two lengths as x,y, for example 0,0', (text) => {
  const [x, y] = lengthsMm(text.split(','), 2) ?? [];
  return x === undefined || y === undefined ? undefined : { x, y };
});

export const grey = reading('a whole number from 0 (full power) to 254', (text) =>
  fitting(Number(text), (n) => Number.isInteger(n) && n >= 0 && n <= 254),
);

export const hole = gathering(
  reading('centre and diameter in mm as x,y,d, for example 3.5,3.5,3.2', (text): DrilledHole[] | undefined => {
    const [x, y, diameterMm] = lengthsMm(text.split(','), 3) ?? [0, 0, 0];
    return diameterMm > 0 ? [{ x, y, diameterMm }] : undefined;
  }),
);

export const diameters = (text: string): number[] => text.split(',').map(positiveMm);

const SIDES: readonly FilmSide[] = ['left', 'right', 'top', 'bottom'];
/** A side of the film and how much more of it. */
export const handle = reading('a side and a width in mm, for example top:25', (text) => {
  const [named, width = '25'] = text.split(/[:,]/);
  const side = SIDES.find((one) => one === named);
  const widthMm = fitting(lengthMm(width), (mm) => mm >= 0);
  return side === undefined || widthMm === undefined ? undefined : { side, widthMm };
});

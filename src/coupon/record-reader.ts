import type { Problem } from '../errors.js';
import { nearestName } from '../schema/nearest.js';

/** Reads the fields of one JSON object and gathers what is wrong; without a schema library, so that start-up stays quick. */
export interface RecordReader {
  readonly path: string;
  has(key: string): boolean;
  text(key: string): string;
  oneOf<T extends string | number>(key: string, values: readonly T[]): T;
  number(key: string, limits?: NumberLimits): number;
  numbers(key: string, count: number): number[];
  record(key: string): RecordReader;
  list(key: string): unknown[];
  /** A reader for an object met elsewhere in the file, for example an item of a list. */
  at(value: unknown, path: string): RecordReader;
  /** Reports something wrong with a key that the caller found out. */
  wrong(key: string, code: string, message: string, hint?: string): void;
  /** Refuses keys that are not in the list. */
  only(keys: readonly string[]): void;
}

export interface NumberLimits {
  readonly above?: number;
  readonly atLeast?: number;
  readonly atMost?: number;
  readonly whole?: boolean;
}

export interface Findings {
  readonly file: string;
  readonly lines: ReadonlyMap<string, number>;
  readonly problems: Problem[];
}

function show(value: unknown): string {
  if (value === undefined) return 'nothing';
  const text = JSON.stringify(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

function describeLimits({ above, atLeast, atMost, whole }: NumberLimits): string {
  const parts = [
    above === undefined ? '' : ` > ${above}`,
    atLeast === undefined ? '' : ` >= ${atLeast}`,
    atMost === undefined ? '' : ` <= ${atMost}`,
  ].filter((part) => part !== '');
  return `a ${whole ? 'whole number' : 'number'}${parts.join(' and')}`;
}

function fits(value: unknown, { above, atLeast, atMost, whole }: NumberLimits): value is number {
  return (
    typeof value === 'number' &&
    Number.isFinite(value) &&
    (above === undefined || value > above) &&
    (atLeast === undefined || value >= atLeast) &&
    (atMost === undefined || value <= atMost) &&
    (!whole || Number.isInteger(value))
  );
}

/**
 * A reader for one object of a parsed JSON file.
 *
 * @param value - the object; anything else is reported
 * @param path - its place in the file, keys joined with dots, '' for the root
 * @param findings - where problems go
 */
export function recordReader(value: unknown, path: string, findings: Findings): RecordReader {
  const isRecord = typeof value === 'object' && value !== null && !Array.isArray(value);
  const fields = (isRecord ? value : {}) as Record<string, unknown>;
  const below = (key: string | number): string => (path === '' ? String(key) : `${path}.${key}`);
  const lineOf = (full: string): number | undefined => findings.lines.get(full) ?? findings.lines.get(path);
  const report = (full: string, code: string, message: string, hint?: string): void => {
    findings.problems.push({
      code,
      place: { file: findings.file, line: lineOf(full), key: full || undefined },
      message,
      ...(hint === undefined ? {} : { hint }),
    });
  };
  const bad = (key: string, expected: string): void => {
    // One sentence about the whole object is enough when it isn't one.
    if (isRecord) report(below(key), 'BAD_VALUE', `expected ${expected}; found ${show(fields[key])}.`);
  };
  if (!isRecord) report(path, 'BAD_VALUE', `expected an object; found ${show(value)}.`);
  return {
    path,
    has: (key) => fields[key] !== undefined,
    text(key) {
      const found = fields[key];
      if (typeof found === 'string' && found !== '') return found;
      bad(key, 'a text');
      return '';
    },
    oneOf(key, values) {
      const found = fields[key];
      const match = values.find((candidate) => candidate === found);
      if (match !== undefined) return match;
      const nearest = typeof found === 'string' ? nearestName(found, values.map(String)) : undefined;
      const list = values.map((candidate) => JSON.stringify(candidate)).join(' or ');
      if (isRecord) {
        const hint = nearest === undefined ? undefined : `Did you mean "${nearest}"?`;
        report(below(key), 'BAD_VALUE', `expected ${list}; found ${show(found)}.`, hint);
      }
      return values[0];
    },
    number(key, limits = {}) {
      const found = fields[key];
      if (fits(found, limits)) return found;
      bad(key, describeLimits(limits));
      return Number.NaN;
    },
    numbers(key, count) {
      const found = fields[key];
      if (Array.isArray(found) && found.length === count && found.every((item) => fits(item, {}))) return found;
      bad(key, `a list of ${count} numbers`);
      return new Array<number>(count).fill(Number.NaN);
    },
    record: (key) => recordReader(isRecord ? (fields[key] ?? null) : {}, below(key), findings),
    list(key) {
      const found = fields[key];
      if (Array.isArray(found)) return found;
      bad(key, 'a list');
      return [];
    },
    at: (item, itemPath) => recordReader(item, itemPath, findings),
    wrong: (key, code, message, hint) => report(key === '' ? path : below(key), code, message, hint),
    only(keys) {
      for (const key of Object.keys(fields)) {
        if (keys.includes(key)) continue;
        const nearest = nearestName(key, keys);
        const hint = nearest ? `Did you mean "${nearest}"?` : `Known keys: ${keys.join(', ')}.`;
        report(below(key), 'UNKNOWN_KEY', 'this key is not known here.', hint);
      }
    },
  };
}

import { numberFor, type Snapshot } from './piece.js';
import type { GroupName, Range, RuleNumber, Selector } from './rule-types.js';

/** Sizes come on a grid of 1 nm: a bound is met by a value that is off by less than this, mm. */
const SLACK = 2e-6;

/** What a range is held against. */
const RANGES = {
  widthMm: ({ measures }, i) => measures[i].widthMm,
  heightMm: ({ measures }, i) => measures[i].heightMm,
  lengthMm: ({ measures }, i) => measures[i].lengthMm,
  narrowestMm: ({ measures }, i) => measures[i].narrowestMm,
  areaMm2: ({ measures }, i) => measures[i].areaMm2,
  areaRatio: ({ measures, film }, i) => measures[i].areaMm2 / (measures[i].perimeterMm * film.thicknessMm),
  lengthPerWidth: ({ measures }, i) => measures[i].lengthMm / measures[i].narrowestMm,
  webMm: ({ webMm }, i) => webMm(i),
  pitchMm: ({ groupOf }, i) => groupOf(i)?.pitchMm,
} as const satisfies { readonly [key in keyof Selector]: (snapshot: Snapshot, i: number) => number | undefined };

function inRange(value: number | undefined, { min, max }: Range, i: number, snapshot: Snapshot): boolean {
  if (value === undefined) return false;
  const bound = (limit: RuleNumber | undefined, open: number): number | undefined => {
    return limit === undefined ? open : numberFor(limit, () => snapshot.scope(i));
  };
  const low = bound(min, -Infinity);
  const high = bound(max, Infinity);
  return low !== undefined && high !== undefined && value >= low - SLACK && value <= high + SLACK;
}

/** Whether a name matches a pattern in which * stands for any letters and ? for one. Case does not matter. */
function matchesName(name: string, pattern: string): boolean {
  const source = pattern
    .replace(/[.+^${}()|[\]\\]/g, '\\$&')
    .replaceAll('*', '.*')
    .replaceAll('?', '.');
  return new RegExp(`^${source}$`, 'i').test(name);
}

function asList<T>(value: T | readonly T[]): readonly T[] {
  return Array.isArray(value) ? value : [value as T];
}

function inNumbers(number: number, wanted: readonly (number | string)[]): boolean {
  return wanted.some((entry) => {
    const [from, to = from] = String(entry).split('-').map(Number);
    return number >= from && number <= to;
  });
}

function groupNames(i: number, snapshot: Snapshot): GroupName[] {
  const group = snapshot.groupOf(i);
  if (!group) return ['none'];
  if (!group.centre.includes(i + 1)) return [group.kind];
  return [group.centre.length === 1 ? 'centre' : 'pane'];
}

/** Whether all conditions of a selector hold for a piece. */
export function selects(select: Selector, i: number, snapshot: Snapshot): boolean {
  const { opening, source } = snapshot.pieces[i];
  const { tag } = opening;
  const named = (name: string | undefined, patterns: readonly string[] | undefined): boolean =>
    patterns === undefined || (name !== undefined && asList(patterns).some((pattern) => matchesName(name, pattern)));
  if (select.openings && !inNumbers(source, select.openings)) return false;
  if (!named(tag?.component, select.component) || !named(tag?.pin, select.pin)) return false;
  if (select.attribute) {
    const all = Object.entries(select.attribute);
    if (!all.every(([key, pattern]) => named(tag?.attributes?.[key], [pattern]))) return false;
  }
  if (select.region) {
    const [x, y] = snapshot.measures[i].centre;
    const { minX, minY, maxX, maxY } = select.region;
    if (x < minX || x > maxX || y < minY || y > maxY) return false;
  }
  if (select.shape && !asList(select.shape).includes(snapshot.measures[i].shape)) return false;
  for (const [name, valueFor] of Object.entries(RANGES)) {
    const range = select[name as keyof typeof RANGES];
    if (range && !inRange(valueFor(snapshot, i), range, i, snapshot)) return false;
  }
  if (select.group) {
    const names = groupNames(i, snapshot);
    if (!asList(select.group).some((name) => names.includes(name))) return false;
  }
  return !(select.not && selects(select.not, i, snapshot));
}

import { robustLine } from '../picture/robust.js';
import type { Patch } from './patch.js';

/** One side of an opening: how far it lies from where it was asked, outwards, and how ragged it is, mm. */
export interface Side {
  readonly outMm: number;
  readonly spreadMm: number;
}

/** The four sides along an opening's own axes; undefined where too little of one is there. */
export interface Sides {
  readonly right?: Side;
  readonly left?: Side;
  readonly upper?: Side;
  readonly lower?: Side;
}

/** How much of its end, seen from outside, makes a side: of something round the outermost part of the arc, mm. */
const DEEP_MM = 0.1;
const DEEP_SHARE = 0.15;
const TRIM_MM = 0.15;
/** On fewer rows one hair is taken for raggedness. */
const LEAST_ROWS = 10;

/**
 * The sides of an opening as seen against those as asked, both by one rule: along rows of samples the outermost place where
 * the film is half open, and of all rows the place that half of the side's length reaches. So corners that blur rounds off,
 * specks and hairs count for nothing, and of an L, a U or a frame it is the outer walls that count.
 *
 * @param size - width and height as asked, along its own sides
 * @param own - samples that belong to this opening
 */
export function sidesOf(
  patch: Patch,
  [widthMm, heightMm]: readonly [number, number],
  own: (at: number) => boolean,
): Sides {
  const { columns, rows } = patch;
  const row = (n: number) => (k: number) => n * columns + k;
  const column = (n: number) => (k: number) => k * columns + n;
  const side = (lines: number, length: number, line: typeof row, back: boolean): Side | undefined => {
    const reach = (data: Float32Array): number[] =>
      Array.from({ length: lines }, (_, n) => {
        const at = line(n);
        return outermost(data, length, back ? (k) => at(length - 1 - k) : at, own);
      });
    const deepMm = Math.min(DEEP_MM, DEEP_SHARE * (line === row ? widthMm : heightMm));
    return sideOf(reach(patch.asked), reach(patch.seen), deepMm, patch.stepMm);
  };
  const [right, left] = [false, true].map((back) => side(rows, columns, row, back));
  const [upper, lower] = [false, true].map((back) => side(columns, rows, column, back));
  return { ...(right && { right }), ...(left && { left }), ...(upper && { upper }), ...(lower && { lower }) };
}

/** The last place along a line of samples where they pass one half, in samples; -1 where none does. */
function outermost(
  data: Float32Array,
  length: number,
  at: (k: number) => number,
  own: (at: number) => boolean,
): number {
  for (let k = length - 1; k >= 0; k -= 1) {
    const value = data[at(k)];
    if (value <= 0.5 || !own(at(k))) continue;
    const next = k + 1 < length ? data[at(k + 1)] : 0;
    return next <= 0.5 ? k + (value - 0.5) / (value - next) : k + 0.5;
  }
  return -1;
}

function sideOf(asked: readonly number[], seen: readonly number[], deepMm: number, stepMm: number): Side | undefined {
  const most = Math.max(...asked);
  if (most < 0) return undefined;
  const end = asked.flatMap((place, n) => (place >= most - Math.max(1, deepMm / stepMm) ? [n] : []));
  const half = Math.ceil(end.length / 2);
  const reached = (places: readonly number[]): number => [...places].sort((p, q) => q - p)[half - 1] ?? -1;
  const [wanted, found] = [reached(asked), reached(seen)];
  if (found < 0) return undefined;
  // A round beam rounds corners off, which is no raggedness: only the middle of a side tells of that.
  const trim = Math.min(TRIM_MM / stepMm, end.length / 4);
  const both = end.filter((n) => n >= end[0] + trim && n <= end[end.length - 1] - trim && seen[n] >= 0);
  const off = both.map((n) => seen[n] - asked[n]);
  const { spread } = both.length >= LEAST_ROWS ? robustLine(both, off, true) : { spread: 0 };
  return { outMm: (found - wanted) * stepMm, spreadMm: spread * stepMm };
}

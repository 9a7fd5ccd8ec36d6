import { MM_PER_INCH } from '../../text.js';
import { decodeCoordinate, unitThatFits } from '../gerber/coordinate-format.js';
import type { Diagnostics } from '../paint/diagnostics.js';

/** How a drill program's numbers are read. */
export interface DrillFormat {
  /** Millimetres of its unit. */
  readonly mm: number;
  readonly integers: number;
  readonly decimals: number;
  /** Which zeros are written: `leading` (LZ) counts digits from the left, `trailing` (TZ) from the right. */
  readonly keeps: 'leading' | 'trailing';
}

/** What a program states, as far as it does. */
interface Stated {
  mm?: number;
  integers?: number;
  decimals?: number;
  keeps?: 'leading' | 'trailing';
}

/** Digits of the machines' own formats when a file states none: 00.0000 inch and 000.000 mm. Common practice, no source. */
const USUAL = { mm: { integers: 3, decimals: 3 }, inch: { integers: 2, decimals: 4 } };
/** Diameters of drills in boards, mm. Common practice, no source. */
const DRILL_MM = { least: 0.1, most: 12 };
/** No board reaches farther, mm. */
const BOARD_MM = 1500;

/**
 * Finds how the numbers of a program are read: from its header and comments, and where these are silent from the
 * numbers themselves, with a warning. What stays open is a problem, for a wrong guess drills ten times too far.
 */
export function findDrillFormat(lines: readonly DrillLine[], notes: Diagnostics): DrillFormat {
  const stated = statedFormat(lines);
  const mm = stated.mm ?? unitOfTools(lines, notes);
  const usual = mm === 1 ? USUAL.mm : USUAL.inch;
  const { integers = usual.integers, decimals = usual.decimals } = stated;
  const numbers = wholeNumbers(lines);
  if (numbers.length > 0 && stated.decimals === undefined) {
    notes.warnOnce(
      'DRILL_FORMAT',
      `coordinates have no decimal point and the file states no digits; read as ${integers}.${decimals}, the machines' own.`,
      'Check the positions of the holes on the dry fit.',
    );
  }
  const keeps = stated.keeps ?? keptZeros(numbers, { integers, decimals, mm }, notes);
  return { mm, integers, decimals, keeps };
}

/** A number of a program in its unit; NaN when it is none. A decimal point is taken as it stands. */
export function drillNumber(digits: string, { integers, decimals, keeps }: DrillFormat): number {
  // Drill programs know no powers of ten.
  if (!/^[+-]?(?:\d+\.?\d*|\.\d+)$/.test(digits)) return Number.NaN;
  return decodeCoordinate(digits, digits.includes('.') ? undefined : { integers, decimals }, keeps === 'leading');
}

function statedFormat(lines: readonly DrillLine[]): Stated {
  const stated: Stated = {};
  for (const { text, comment } of lines) {
    if (comment) fromComment(text, stated);
    else if (/^(METRIC|INCH)/.test(text)) {
      stated.mm = text.startsWith('METRIC') ? 1 : MM_PER_INCH;
      if (/,LZ/.test(text)) stated.keeps = 'leading';
      if (/,TZ/.test(text)) stated.keeps = 'trailing';
      const digits = /,(0+)\.(0+)/.exec(text);
      if (digits) [stated.integers, stated.decimals] = [digits[1].length, digits[2].length];
    } else if (/^M7[12]$/.test(text)) stated.mm ??= text === 'M71' ? 1 : MM_PER_INCH;
  }
  return stated;
}

/** Programs state formats in comments: `;FILE_FORMAT=2:4`, `; FORMAT={3:3/ absolute / metric / suppress leading zeros}`. */
function fromComment(text: string, stated: Stated): void {
  if (!/FORMAT/i.test(text)) return;
  const digits = /FORMAT\s*=\s*\{?\s*(\d)[:.](\d)/i.exec(text);
  if (digits) [stated.integers, stated.decimals] = [Number(digits[1]), Number(digits[2])];
  // Numbers then have a point; those that happen to be whole may come without one.
  else if (/decimal/i.test(text)) Object.assign(stated, { integers: 6, decimals: 0, keeps: 'trailing' });
  if (/metric/i.test(text)) stated.mm ??= 1;
  else if (/inch/i.test(text)) stated.mm ??= MM_PER_INCH;
  if (/suppress leading|leading zeros? (?:omitted|suppress)|keep trailing/i.test(text)) stated.keeps ??= 'trailing';
  if (/suppress trailing|trailing zeros? (?:omitted|suppress)|keep leading|keep zeros/i.test(text))
    stated.keeps ??= 'leading';
}

/** The unit in which all tools are drills for boards, when it is only one. */
function unitOfTools(lines: readonly DrillLine[], notes: Diagnostics): number {
  const sizes = lines.flatMap(({ text, comment }) => {
    const size = comment ? undefined : /^T\d+.*C([\d.]+)/.exec(text)?.[1];
    return size === undefined ? [] : [Number(size)];
  });
  const mm = unitThatFits(sizes, DRILL_MM);
  const listed = sizes.slice(0, 4).join(', ');
  if (mm === undefined) {
    notes.fail(
      'DRILL_UNIT',
      `the drill file does not state its unit, and its tools (${listed || 'none'}) don't tell.`,
      'Put METRIC or INCH after M48, or give holes with --hole.',
    );
    return 1;
  }
  notes.warnOnce(
    'UNIT_ASSUMED',
    `the drill file does not state its unit; its tools (${listed}) are drills only in ${mm === 1 ? 'millimetres' : 'inch'}, and so it is read.`,
    'Check the positions of the holes on the dry fit.',
  );
  return mm;
}

/** Coordinates without a decimal point, as digits without sign. */
function wholeNumbers(lines: readonly DrillLine[]): string[] {
  const found: string[] = [];
  for (const { text, comment } of lines) {
    if (comment || !/[XY]/.test(text) || /^[A-FH-LO-QS-W]/.test(text)) continue;
    for (const part of text.split('G85')) {
      for (const letter of ['X', 'Y']) {
        const digits = digitsAfter(part, letter)?.replace(/^[+-]/, '');
        if (digits && !digits.includes('.')) found.push(digits);
      }
    }
  }
  return found;
}

/** Which zeros are written, told from the numbers: only one way of leaving zeros out explains them. */
function keptZeros(
  numbers: readonly string[],
  { integers, decimals, mm }: Omit<DrillFormat, 'keeps'>,
  notes: Diagnostics,
): 'leading' | 'trailing' {
  const full = integers + decimals;
  // All digits are there, or there is nothing to tell: both ways agree.
  if (numbers.every((digits) => digits.length === full || /^0*$/.test(digits))) return 'trailing';
  const begins = numbers.some((digits) => digits.length > 1 && digits.startsWith('0') && digits.length < full);
  const ends = numbers.some((digits) => digits.length > 1 && digits.endsWith('0') && digits.length < full);
  const reach = (keeps: 'leading' | 'trailing'): number =>
    numbers.reduce((far, d) => Math.max(far, mm * Math.abs(drillNumber(d, { mm, integers, decimals, keeps }))), 0);
  const can = {
    leading: !ends && numbers.every((d) => d.length <= full) && reach('leading') <= BOARD_MM,
    trailing: !begins && reach('trailing') <= BOARD_MM,
  };
  if (can.leading === can.trailing) {
    notes.fail(
      'DRILL_ZEROS',
      'coordinates have no decimal point, and the drill file does not say which zeros it leaves out.',
      'Put METRIC,TZ or METRIC,LZ (INCH,…) after M48: TZ when it leaves out leading zeros, LZ when trailing ones.',
    );
    return 'trailing';
  }
  const keeps = can.leading ? 'leading' : 'trailing';
  notes.warnOnce(
    'DRILL_ZEROS',
    `the drill file does not say which zeros it leaves out; its numbers only fit with ${keeps === 'leading' ? 'trailing' : 'leading'} zeros left out.`,
    'Check the positions of the holes on the dry fit.',
  );
  return keeps;
}

/** One line of a drill program. */
export interface DrillLine {
  readonly text: string;
  /** Counting from 1. */
  readonly line: number;
  readonly comment: boolean;
}

/** Splits a program into lines; commands come in capitals and without spaces, comments as they are. */
export function drillLines(text: string): DrillLine[] {
  return text.split(/\r\n|\r|\n/).flatMap((raw, i): DrillLine[] => {
    const trimmed = raw.trim();
    if (trimmed === '') return [];
    const comment = trimmed.startsWith(';');
    // XNC and others also put comments behind a command.
    const command = comment
      ? trimmed
      : trimmed
          .replace(/\s*;.*$/, '')
          .toUpperCase()
          .replace(/\s+/g, '');
    return [{ text: command, line: i + 1, comment }];
  });
}

/** The digits after a letter in a command, as `-250` after `Y`; undefined when the letter is not there. */
export function digitsAfter(text: string, letter: string): string | undefined {
  const at = text.indexOf(letter);
  if (at < 0) return undefined;
  return /^[+-]?[\d.]*(?:E[+-]?\d*)?/.exec(text.slice(at + 1))?.[0];
}

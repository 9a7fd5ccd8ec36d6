/**
 * Names for a sentence, and of many the first ones: `A, B and 3 more`.
 *
 * @param most - so many are all named; of more, `shown` are
 */
export function firstOf(names: readonly (string | number)[], most: number, shown = most): string {
  if (names.length <= most) return names.join(', ');
  return `${names.slice(0, shown).join(', ')} and ${names.length - shown} more`;
}

/** Runs of numbers as they may be typed: 1-4,7. */
export const allRuns = (list: readonly number[]): string => runs(list).join(',');

/** Opening numbers with runs drawn together: 1-4, 7. Not all, where there are many runs. */
export const runsOf = (list: readonly number[]): string => firstOf(runs(list), 12);

function runs(list: readonly number[]): string[] {
  const sorted = [...new Set(list)].sort((p, q) => p - q);
  const found: [number, number][] = [];
  for (const n of sorted) {
    const last = found[found.length - 1];
    if (last && n === last[1] + 1) last[1] = n;
    else found.push([n, n]);
  }
  return found.map(([from, to]) => (from === to ? String(from) : `${from}-${to}`));
}

/** So many of something: `1 opening`, `3 openings`. */
export function count(n: number, word: string, words = `${word}s`): string {
  return `${n} ${n === 1 ? word : words}`;
}

/** The same at the head of a sentence about a few: `one opening lies`, `3 openings lie`. */
export const oneOrMany = (n: number, word: string, words: string): string =>
  `${n === 1 ? 'one' : n} ${n === 1 ? word : words}`;

/**
 * Breaks a text between words into lines that fit; a word that does not fit alone has a line of its own.
 *
 * @param fits - whether a line fits, which is the one at `index`, from 0
 */
export function wrapWords(text: string, fits: (line: string, index: number) => boolean): string[] {
  const lines = [''];
  for (const word of text.split(' ')) {
    const last = lines[lines.length - 1];
    const longer = last === '' ? word : `${last} ${word}`;
    if (last !== '' && !fits(longer, lines.length - 1)) lines.push(word);
    else lines[lines.length - 1] = longer;
  }
  return lines;
}

/** As a sentence begins: with a large letter. */
export const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

/** A length in micrometres with one digit after the point; rounding leaves no minus before a nought. */
export const micrometres = (lengthMm: number): string => (lengthMm * 1000).toFixed(1).replace(/^-0\.0$/, '0.0');

/** With the three digits that a person sets or reads. */
export const threeDigits = (value: number): number => Number(value.toPrecision(3));

/** A number's text with its sign before it, a minus as it is printed. */
export const signed = (text: string): string => (text.startsWith('-') ? text.replace('-', '−') : `+${text}`);

export const MM_PER_INCH = 25.4;

/** Dots per inch in words, for a distance of dots. */
export const dpiWords = (pitchMm: number): string => `${Number((MM_PER_INCH / pitchMm).toFixed(2))}`;

const ENTITIES: Readonly<Record<string, string>> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

/** Text as it may stand in XML and HTML, between tags and in quotes: what can't be seen is shown, what XML has no sign for is a blank. */
export const escapeXml = (text: string): string =>
  visibleLines(text)
    .replace(/[\ufffe\uffff]|\p{Cs}/gu, ' ')
    .replace(/[&<>"]/g, (letter) => ENTITIES[letter]);

/*
 * Names and attributes come out of files that anybody may have made. What moves a cursor, colours a line, turns the
 * direction of reading or can't be seen is shown as \uXXXX: a terminal obeys nothing, and JSON reads it as what it was.
 */

/** Control characters (C0, DEL, C1), format characters (bidirectional marks, zero widths), line and paragraph separators. */
const HIDDEN = /[\p{Cc}\p{Cf}\u2028\u2029]/gu;
const HIDDEN_IN_LINES = /(?![\n\t])[\p{Cc}\p{Cf}\u2028\u2029]/gu;

function escaped(character: string): string {
  let text = '';
  for (let i = 0; i < character.length; i += 1) text += `\\u${character.charCodeAt(i).toString(16).padStart(4, '0')}`;
  return text;
}

/** A text on one line, with everything that can't be seen written as `\uXXXX` (Unicode categories Cc, Cf, Zl, Zp). */
export function visible(text: string): string {
  return text.replace(HIDDEN, escaped);
}

/** The same for text of several lines: line feeds and tabs stay. */
export function visibleLines(text: string): string {
  // Long lists of numbers are looked at quickly.
  if (/^[\n\t\x20-\x7e]*$/.test(text)) return text;
  return text.replace(HIDDEN_IN_LINES, escaped);
}

/** What makes a spreadsheet take a cell for a formula, also after spaces and in the wide forms of these signs. */
const FORMULA = /^[\s'"]*[=+\-@\t\r\uFF1D\uFF0B\uFF0D\uFF20]/;
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i;

/**
 * A cell as text: what can't be seen is shown, and what a spreadsheet would work out gets an apostrophe before it, as
 * the OWASP page "CSV Injection" advises. Numbers stay numbers.
 */
function cellOf(value: string | number): string {
  const text = String(value);
  if (typeof value === 'number' || NUMBER.test(text)) return text;
  const shown = visible(text);
  return FORMULA.test(text) ? `'${shown}` : shown;
}

/** What is plain in every country and program, as most cells are: words, and numbers also below 0. */
const PLAIN = /^(?:[\w.][\w. ]*|-\d+\.?\d*)?$/;

/** A cell ready for a file, in quotation marks where it holds what parts cells in any country (RFC 4180). */
export function csvCell(value: string | number): string {
  if (typeof value === 'string' && PLAIN.test(value)) return value;
  const cell = cellOf(value);
  return /[",;\t\n\r]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}

/** Rows as CSV, a line feed after each. @param columns - their names, in order, and what stands in them of a row */
export function csvText<R>(columns: Readonly<Record<string, (row: R) => string | number>>, rows: readonly R[]): string {
  const cells = Object.values(columns);
  const line = (row: R): string => cells.map((cell) => csvCell(cell(row))).join(',');
  return `${[Object.keys(columns).join(','), ...rows.map(line)].join('\n')}\n`;
}

import { InputError, type Problem } from '../errors.js';
import { grouped } from '../kept.js';

/** One row of a CSV text: its cells, trimmed, and the line (from 1) on which it starts. */
export interface CsvRow {
  readonly line: number;
  readonly cells: readonly string[];
  /** A quote was opened and never closed. */
  readonly openQuote?: boolean;
}

/** A row, or a comment: a line that starts with #, or a row whose first cell does (spreadsheets put quotes around it). */
export interface CsvRecord extends CsvRow {
  readonly isComment: boolean;
  /** As it stands in the file, without the line break. */
  readonly text: string;
}

/** What spreadsheets put between cells. */
export const DELIMITERS = [',', ';', '\t'] as const;

/** Rows that hold something and are no comments. */
export const filledRows = (records: readonly CsvRecord[]): CsvRow[] =>
  records.filter(({ isComment, cells }) => !isComment && cells.some((cell) => cell !== ''));

export const csvRows = (text: string, delimiter: string): CsvRow[] => filledRows(csvRecords(text, delimiter));

/** The name of a column as a header has it, in whatever case, with blanks or dashes. */
export const columnName = (cell: string): string =>
  cell
    .trim()
    .toLowerCase()
    .replace(/[\s-]+/g, '_');

/**
 * A CSV text as rows and the names of its columns, under the delimiter that parts its header into the most known names.
 *
 * @param unfold - gives other rows where these hold more than their cells show
 */
export function tableIn(
  text: string,
  known: readonly string[],
  delimiters: readonly string[] = DELIMITERS,
  unfold = (rows: readonly CsvRow[], _delimiter: string): readonly CsvRow[] => rows,
) {
  const tables = delimiters.map((delimiter) => {
    const records = csvRecords(text, delimiter);
    const filled = filledRows(records);
    const rows = unfold(filled, delimiter);
    const names = rows[0]?.cells.map(columnName) ?? [];
    const named = names.filter((name) => name !== '').length;
    const fit = names.filter((name) => known.includes(name)).length + named / 1000 + (rows === filled ? 0 : 0.5);
    return { delimiter, records, rows, names, fit };
  });
  return tables.reduce((best, one) => (one.fit > best.fit ? one : best));
}

/** Nobody reads as many features or marks; each row takes part in a fit several hundred times. */
const MOST_ROWS = 20_000;

/** @throws {InputError} TOO_MANY_ROWS */
export function refuseTooManyRows(rows: readonly CsvRow[], file: string, hint: string): void {
  if (rows.length <= MOST_ROWS) return;
  const message = `expected at most ${MOST_ROWS} rows, found ${rows.length}.`;
  throw new InputError({ code: 'TOO_MANY_ROWS', place: { file }, message, hint });
}

/**
 * Splits a CSV text into records after RFC 4180, plus what spreadsheets and people do: CR, LF or both; a byte order
 * mark; any delimiter; comment lines, whose quotes open nothing. A quote inside an unquoted cell is a plain character
 * (0.5" is a length).
 *
 * csv-parse takes 0.1 s to import, drops the comments that hold a form, and ends at the first quote that stays open;
 * the tests compare the two.
 */
export function csvRecords(text: string, delimiter: string): CsvRecord[] {
  const parting = `\\u${delimiter.charCodeAt(0).toString(16).padStart(4, '0')}`;
  const blanks = delimiter === '\t' ? '[ ]*' : '[ \\t]*';
  const cell = new RegExp(`${blanks}(?:"([^"]*(?:""[^"]*)*)("|$))?([^${parting}\\r\\n]*)(${parting})?`, 'y');
  const records: CsvRecord[] = [];
  let line = 1;
  let at = text.startsWith('\uFEFF') ? 1 : 0;
  const next = (pattern: RegExp): readonly (string | undefined)[] => {
    pattern.lastIndex = at;
    const found = pattern.exec(text) ?? [];
    at += found[0]?.length ?? 0;
    return found;
  };
  while (at < text.length) {
    const [start, firstLine] = [at, line];
    const [comment] = next(BARE_COMMENT);
    const cells = comment === undefined ? [] : commentCells(comment.trim(), delimiter);
    let openQuote = false;
    for (let more = comment === undefined; more; ) {
      const [, quoted = '', closing, plain = '', parted] = next(cell);
      cells.push((quoted.replaceAll('""', '"').trim() + plain.trim()).trim());
      line += quoted.split(LINE_BREAK).length - 1;
      openQuote ||= closing === '';
      more = parted !== undefined;
    }
    const isComment = cells[0].startsWith('#');
    const record = { line: firstLine, cells, isComment, text: text.slice(start, at) };
    records.push(openQuote ? { ...record, openQuote } : record);
    next(ONE_BREAK);
    line += 1;
  }
  return records;
}

const BARE_COMMENT = /[ ]{0,79}#[^\r\n]*/y;
const LINE_BREAK = /\r\n|[\r\n]/;
const ONE_BREAK = /\r\n|[\r\n]/y;

/** The cells of a comment line, read as a row where its quotes allow it; cut at the delimiters where not. */
function commentCells(line: string, delimiter: string): string[] {
  const [record] = csvRecords(line.slice(1), delimiter);
  const cells = !record || record.openQuote || record.isComment ? line.slice(1).split(delimiter) : record.cells;
  return cells.map((cell, j) => (j === 0 ? `#${cell}` : cell).trim());
}

/** After so many of one kind the reader knows. */
const MOST_OF_A_KIND = 5;

/** The first five problems of each kind and file, and how many more rows have it; the order stays. */
export function capProblems(problems: readonly Problem[]): Problem[] {
  const kinds = grouped(problems, ({ code, place }) => JSON.stringify([code, place?.file, place?.key]));
  const instead = new Map<Problem, Problem[]>();
  for (const kind of kinds.values()) {
    const { code, place } = kind[kind.length - 1];
    const rest = kind.slice(MOST_OF_A_KIND);
    // A single one more is told sooner than counted.
    if (rest.length <= 1) continue;
    const message = `and ${rest.length} more rows like these, the last in line ${place?.line ?? '?'}.`;
    for (const one of rest) instead.set(one, []);
    instead.set(kind[kind.length - 1], [{ code, place: { file: place?.file }, message }]);
  }
  return problems.flatMap((problem) => instead.get(problem) ?? [problem]);
}

/** Text of a file as spreadsheets save it: UTF-8, UTF-16 with or without a byte order mark, or else Windows' Latin letters. */
export function decodeText(bytes: Uint8Array): string {
  const utf16 = utf16Kind(bytes);
  // Some spreadsheet programs put a mark before every block that they write, in the middle of a number, too.
  if (utf16) return new TextDecoder(utf16).decode(bytes).replaceAll('\uFEFF', '');
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** Zero bytes stand in every second place of Latin text in UTF-16, and in no other text. */
function utf16Kind(bytes: Uint8Array): 'utf-16le' | 'utf-16be' | undefined {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return 'utf-16le';
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return 'utf-16be';
  if (bytes.length % 2 === 1) return undefined;
  const looked = bytes.subarray(0, 512);
  const [even, odd] = [0, 1].map((side) => looked.filter((byte, i) => byte === 0 && i % 2 === side).length);
  if (odd > looked.length / 4 && even === 0) return 'utf-16le';
  return even > looked.length / 4 && odd === 0 ? 'utf-16be' : undefined;
}

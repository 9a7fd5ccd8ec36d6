import { InputError, type Problem, type Warning } from '../errors.js';
import { givenText } from '../given.js';
import { present } from '../kept.js';
import { didYouMean, nearestName } from '../schema/nearest.js';
import { wrongFile } from '../schema/our-files.js';
import { firstOf } from '../text.js';
import { type CsvRow, capProblems, columnName, csvRows, DELIMITERS, refuseTooManyRows, tableIn } from './csv-rows.js';
import { LENGTH_UNITS, parseLength, type TypedLength } from './length.js';
import { type ReadingsForm, readForm } from './readings-form.js';
import { FORM_COLUMNS, READING_COLUMNS, type Reading, type ReadingColumn } from './types.js';
import { OUTCOMES, outcomeOf } from './where-to-read.js';

export interface ParsedReadings {
  readonly readings: readonly Reading[];
  /** Those of the readings whose number came without a unit and was taken as mm. */
  readonly bare: readonly Reading[];
  /** By how much the readings of a gauge may be off together, mm, as the column gauge_limit_mm says. */
  readonly gaugeLimitsMm: Readonly<Record<string, number>>;
  /** How the coupon was cut and read, as far as the file says it. */
  readonly form: ReadingsForm;
  readonly warnings: readonly Warning[];
}

/**
 * Reads a readings file (contract 2): header `feature,reading_mm,outcome,resolution_mm,gauge,note`, and from a scan
 * `uncertainty_mm` and `gauge_limit_mm`, of which only
 * `feature` and one of `reading_mm` and `outcome` need to be there; columns and rows in any order, `,` `;` or tab between cells, decimal point or comma, units as typed (`310 um`). Rows with neither reading nor
 * outcome are the ones not filled in yet: they are left out and counted. Repeated rows are repeat readings.
 *
 * @param text - of the file; a byte order mark is accepted
 * @param file - its name, for messages; goes into every reading with its line
 * @throws {InputError} TOO_MANY_ROWS; with all problems together: NO_ROWS, NO_HEADER, UNKNOWN_COLUMN, REPEATED_COLUMN, COLUMN_MISSING,
 *   TOO_MANY_CELLS, OPEN_QUOTE, FEATURE_MISSING, BAD_LENGTH, BAD_RESOLUTION, UNKNOWN_OUTCOME, MIXED_DECIMALS, BAD_FORM,
 *   REPEATED_FORM
 * @example parseReadings('feature,reading_mm\nLA9,2.11\n', 'ladder.csv').readings[0].readingMm // 2.11
 */
export function parseReadings(text: string, file: string): ParsedReadings {
  const other = /^[\s\uFEFF]*(?:\{|PK\u0003|\u00d0\u00cf)/.test(givenText(text, file))
    ? wrongFile(file, 'a readings file, CSV', text)
    : undefined;
  if (other) throw other;
  const { rows, records, delimiter } = splitRows(text, file);
  refuseTooManyRows(
    rows,
    file,
    'Check that this is the right file; fit readings of several coupons from several files.',
  );
  const [header, ...body] = rows;
  const problems: Problem[] = [];
  const form = readForm(records, delimiter, file, problems);
  const wrongIn =
    (line: number): Wrong =>
    (code, key, message, hint) =>
      void problems.push({ code, place: { file, line, key }, message, hint });
  const columns = readHeader(header, body, wrongIn(header.line), problems.length === 0);
  if (problems.length > 0) throw new InputError(problems);
  const readings: Reading[] = [];
  const blank: string[] = [];
  const bare: Reading[] = [];
  const gaugeLimitsMm: Record<string, number> = {};
  const marks: Marks = { pointSeen: false };
  for (const row of body) {
    const wrong = wrongIn(row.line);
    const cells = cellsOf(row, columns, delimiter, wrong);
    if (!cells) continue;
    const reading = readRow(cells, { file, line: row.line }, wrong, marks);
    if (reading === 'blank') blank.push(cells.get('feature') ?? '');
    else if (reading) {
      readings.push(reading);
      const limitMm = parseLength(cells.get('gauge_limit_mm') ?? '')?.valueMm;
      if (reading.gauge !== undefined && limitMm !== undefined)
        gaugeLimitsMm[reading.gauge] = Math.max(limitMm, gaugeLimitsMm[reading.gauge] ?? 0);
      if (reading.readingMm !== undefined && parseLength(cells.get('reading_mm') ?? '')?.bare) bare.push(reading);
    }
  }
  if (marks.pointSeen && marks.ambiguousLine !== undefined) {
    wrongIn(marks.ambiguousLine)(
      'MIXED_DECIMALS',
      undefined,
      'a number like 1,234 here, but decimal points elsewhere in the file: it could mean two things.',
      'Write all numbers in one way, without separators between thousands.',
    );
  }
  if (problems.length === 0) problems.push(...swappedColumns(body, columns, readings, file));
  if (problems.length > 0) throw new InputError(capProblems(problems));
  const warnings: Warning[] = present(
    blank.length > 0 && {
      code: 'BLANK_ROWS',
      place: { file },
      message: `${blank.length} of ${blank.length + readings.length} rows are not filled in: ${firstOf(blank, 6, 5)}.`,
    },
  );
  return { readings, bare, gaugeLimitsMm, form, warnings };
}

/** Gathers what is wrong in a row. */
type Wrong = (code: string, key: string | undefined, message: string, hint: string) => void;

/** So few rows may look like anything. */
const ENOUGH_ROWS = 4;
/** No gauge that reads to more than this is used on lengths of a millimetre or less. */
const COARSEST_STEP_MM = 0.1;

/** Readings that are one fine step in every row, beside resolutions that differ from row to row, stand in each other's column. */
function swappedColumns(
  body: readonly CsvRow[],
  columns: readonly (ReadingColumn | undefined)[],
  readings: readonly Reading[],
  file: string,
): Problem[] {
  const both = readings.filter(({ readingMm, resolutionMm }) => readingMm !== undefined && resolutionMm !== undefined);
  if (both.length < ENOUGH_ROWS || both.length < 0.9 * readings.length) return [];
  const steps = new Set(both.map(({ readingMm }) => readingMm));
  const lengths = new Set(both.map(({ resolutionMm }) => resolutionMm));
  const fine = both.every(({ readingMm }) => (readingMm ?? 0) > 0 && (readingMm ?? 0) <= COARSEST_STEP_MM);
  const coarse = both.filter(({ resolutionMm }) => (resolutionMm ?? 0) > COARSEST_STEP_MM);
  if (!fine || steps.size > 2 || lengths.size < both.length / 3 || coarse.length < both.length / 2) return [];
  const line = body.find(({ cells }) => (cells[columns.indexOf('reading_mm')] ?? '') !== '')?.line;
  return [
    {
      code: 'COLUMNS_SWAPPED',
      place: { file, line, key: 'reading_mm' },
      message: `the columns reading_mm and resolution_mm look swapped: every reading is ${[...steps].join(' or ')} mm, and the resolutions go up to ${Math.max(...both.map(({ resolutionMm }) => resolutionMm ?? 0))} mm.`,
      hint: 'Change the two names in the header, or the two columns.',
    },
  ];
}

/** How numbers are written in a file, as far as it can be misread. */
interface Marks {
  pointSeen: boolean;
  ambiguousLine?: number;
}

/** The delimiter under which the first row holds the most known column names. */
function splitRows(text: string, file: string) {
  const separatorLine = /^\uFEFF?sep=(.)\r?\n/i.exec(text);
  const body = separatorLine ? `#${text.replace(/^\uFEFF/, '')}` : text;
  const best = tableIn(body, READING_COLUMNS, separatorLine ? [separatorLine[1]] : DELIMITERS, unfolded);
  if (best.rows.length === 0) {
    throw new InputError({
      code: 'NO_ROWS',
      place: { file },
      message: 'there is nothing in this file.',
      hint: `Its first line is the header: ${FORM_COLUMNS.join(',')}.`,
    });
  }
  return best;
}

const knownColumns = (cells: readonly string[]): number => cells.filter((cell) => isColumn(columnName(cell))).length;

/**
 * A spreadsheet that expects another delimiter shows whole rows in its first column, and saves them as one cell each.
 * What was typed into the columns beside it belongs into the blank cells of the row, in their order.
 */
function unfolded(rows: readonly CsvRow[], delimiter: string): readonly CsvRow[] {
  const [first = '', ...others] = rows[0]?.cells ?? [];
  if (others.some((cell) => cell !== '') || knownColumns([first]) > 0) return rows;
  const inner = DELIMITERS.find((other) => knownColumns(csvRows(first, other)[0]?.cells ?? []) > 1);
  // Without a second column nothing was folded: this is not the delimiter.
  if (inner === undefined || (inner !== delimiter && others.length === 0)) return rows;
  const width = csvRows(first, inner)[0].cells.length;
  return rows.map((row) => {
    const [folded, typed] = wholeCell(row.cells, inner);
    const cells = [...folded];
    while (cells.length < width) cells.push('');
    for (const cell of typed) {
      const blank = cells.indexOf('', 1);
      if (blank < 0) cells.push(cell);
      else cells[blank] = cell;
    }
    return { ...row, cells };
  });
}

/** The cells that one cell holds, and what was typed beside it; a note with the other delimiter in it was cut there. */
function wholeCell(cells: readonly string[], inner: string): [folded: readonly string[], typed: string[]] {
  for (let parts = 1; parts <= cells.length; parts += 1) {
    const row = csvRows(cells.slice(0, parts).join('; '), inner)[0];
    if (row?.openQuote && parts < cells.length) continue;
    return [row?.cells ?? [''], cells.slice(parts).filter((cell) => cell !== '')];
  }
  return [[''], []];
}

function isColumn(name: string): name is ReadingColumn {
  return (READING_COLUMNS as readonly string[]).includes(name);
}

/** @param isRight - nothing was wrong before: what is missing may else be what is wrong */
function readHeader(
  header: CsvRow,
  body: readonly CsvRow[],
  wrong: Wrong,
  isRight: boolean,
): (ReadingColumn | undefined)[] {
  const names = header.cells.map(columnName);
  const wanted = FORM_COLUMNS.join(',');
  if (!names.some((name) => isColumn(name) || nearestName(name, READING_COLUMNS) !== undefined)) {
    const found = `expected the header ${wanted}; found "${header.cells.join(',').slice(0, 60)}".`;
    const hint = 'Put the header in the first line; start from the blank file that came with the coupon.';
    wrong('NO_HEADER', undefined, found, hint);
    return [];
  }
  let isComplete = isRight;
  const tell: Wrong = (...told) => {
    isComplete = false;
    wrong(...told);
  };
  const columns = names.map((name, j) => {
    if (isColumn(name)) {
      if (names.indexOf(name) < j)
        tell('REPEATED_COLUMN', name, 'this column stands here twice.', 'Delete one of them.');
      return name;
    }
    const known = didYouMean(name, READING_COLUMNS, `Known columns: ${READING_COLUMNS.join(', ')}.`);
    if (name !== '') tell('UNKNOWN_COLUMN', header.cells[j], 'this column is not known.', known);
    else if (body.some((row) => (row.cells[j] ?? '') !== ''))
      tell('UNKNOWN_COLUMN', `column ${j + 1}`, 'this column has no name, but there are cells in it.', known);
    return undefined;
  });
  const known = `The header is ${wanted}.`;
  if (isComplete && !names.includes('feature'))
    wrong('COLUMN_MISSING', 'feature', 'there is no column "feature".', known);
  else if (isComplete && !names.includes('reading_mm') && !names.includes('outcome'))
    wrong('COLUMN_MISSING', 'reading_mm', 'there is no column "reading_mm" and none "outcome".', known);
  return columns;
}

function cellsOf(
  row: CsvRow,
  columns: readonly (ReadingColumn | undefined)[],
  delimiter: string,
  wrong: Wrong,
): Map<ReadingColumn, string> | undefined {
  if (row.openQuote) {
    const hint = 'Close it, or delete it.';
    wrong('OPEN_QUOTE', undefined, 'a quotation mark is opened here and never closed.', hint);
    return undefined;
  }
  const outcome = row.cells[columns.indexOf('outcome')] ?? '';
  const commaSlip = delimiter === ',' && /^\d+$/.test(outcome);
  if (commaSlip || row.cells.slice(columns.length).some((cell) => cell !== '')) {
    const isNumber =
      delimiter === ',' && row.cells.some((cell, j) => /^[+-]?\d+$/.test(cell) && /^\d/.test(row.cells[j + 1] ?? ''));
    const [found, hint] = isNumber
      ? [
          'a number seems to be written with a decimal comma, but commas part the cells of this file.',
          'Write a decimal point, put the number in quotation marks, or part the cells by semicolons.',
        ]
      : [
          `expected at most ${columns.length} cells, found ${row.cells.length}.`,
          'Put quotation marks around a note that holds the delimiter.',
        ];
    wrong('TOO_MANY_CELLS', undefined, found, hint);
    return undefined;
  }
  const cells = columns.map((column, j) => [column, row.cells[j] ?? ''] as const);
  return new Map(
    cells.filter((cell): cell is readonly [ReadingColumn, string] => cell[0] !== undefined && cell[1] !== ''),
  );
}

function readRow(
  cells: ReadonlyMap<ReadingColumn, string>,
  place: { readonly file: string; readonly line: number },
  tell: Wrong,
  marks: Marks,
): Reading | 'blank' | undefined {
  let isRight = true;
  const wrong: Wrong = (...told) => {
    isRight = false;
    tell(...told);
  };
  const feature = cells.get('feature');
  const written = cells.get('reading_mm');
  const only = cells.get('outcome');
  // An outcome is often typed into the first blank column.
  const moved = written !== undefined && only === undefined && outcomeOf(written) !== undefined;
  const typed = moved ? undefined : written;
  const outcomeText = moved ? written : only;
  if (typed === undefined && outcomeText === undefined) {
    if (feature !== undefined) return 'blank';
    if (!cells.has('resolution_mm')) return undefined;
  }
  if (feature === undefined)
    wrong('FEATURE_MISSING', 'feature', 'this row names no feature.', 'Give the id that stands on the worksheet.');
  const length = (column: ReadingColumn, text: string | undefined): TypedLength | undefined => {
    if (text === undefined) return undefined;
    const found = parseLength(text);
    if (found === undefined) {
      wrong(
        'BAD_LENGTH',
        column,
        `expected a length such as 0.31, 310 um or 12.2 mil; found "${text}".`,
        `One number for each row, without separators between thousands; units: ${LENGTH_UNITS}. A second reading gets a row of its own.`,
      );
    } else {
      if (found.mark === '.') marks.pointSeen = true;
      if (found.ambiguous) marks.ambiguousLine ??= place.line;
    }
    return found;
  };
  const positive = (column: ReadingColumn, code: string, hint: string): TypedLength | undefined => {
    const found = length(column, cells.get(column));
    if (!found || found.valueMm > 0) return found;
    wrong(code, column, `expected a length > 0; found "${cells.get(column)}".`, hint);
    return undefined;
  };
  const reading = length('reading_mm', typed);
  const step = 'Give one step of the gauge, for example 0.01 for a digital caliper, or leave the cell empty.';
  const resolution = positive('resolution_mm', 'BAD_RESOLUTION', step);
  const uncertainty = positive('uncertainty_mm', 'BAD_UNCERTAINTY', 'Correct it, or leave the cell empty.');
  positive('gauge_limit_mm', 'BAD_UNCERTAINTY', 'Correct it, or leave the cell empty.');
  const outcome = outcomeText === undefined ? undefined : outcomeOf(outcomeText);
  if (outcomeText !== undefined && outcome === undefined) {
    const hint = didYouMean(outcomeText, OUTCOMES, `Known outcomes: ${OUTCOMES.join(', ')}.`);
    wrong('UNKNOWN_OUTCOME', 'outcome', `"${outcomeText}" is not a known outcome.`, hint);
  }
  if (!isRight || feature === undefined) return undefined;
  const note = cells.get('note');
  const gauge = cells.get('gauge');
  return {
    feature,
    ...(reading ? { readingMm: reading.valueMm } : {}),
    ...(outcome ? { outcome } : {}),
    ...(resolution ? { resolutionMm: resolution.valueMm } : {}),
    ...(uncertainty ? { uncertaintyMm: uncertainty.valueMm } : {}),
    ...(gauge === undefined ? {} : { gauge }),
    ...(note === undefined ? {} : { note }),
    ...place,
  };
}

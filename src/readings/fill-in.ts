import { InputError } from '../errors.js';
import { type CsvRecord, filledRows, tableIn } from './csv-rows.js';
import { FORM_LINES } from './readings-form.js';
import type { FORM_COLUMNS } from './types.js';

/** A readings file that is being filled in: everything that is not changed stays as it was written. */
export interface ReadingsSheet {
  readonly delimiter: string;
  readonly columns: readonly string[];
  readonly records: readonly CsvRecord[];
}

/** What goes into a row; undefined leaves a cell as it is, an empty text empties it. */
export type RowCells = Partial<Record<Exclude<(typeof FORM_COLUMNS)[number], 'feature'>, string>>;

/** What is written into. */
const NEEDED = ['feature', 'reading_mm', 'outcome'];

/**
 * Opens a readings file for filling in.
 *
 * @throws {InputError} SHEET_NOT_PLAIN when its header can't be found where a program could write below it
 */
export function openSheet(text: string, file: string): ReadingsSheet {
  const { delimiter, records, names: columns } = tableIn(text, NEEDED);
  if (NEEDED.every((name) => columns.includes(name))) return { delimiter, columns, records };
  throw new InputError({
    code: 'SHEET_NOT_PLAIN',
    place: { file },
    message: 'it has no columns feature, reading_mm and outcome to write into.',
    hint: 'Make the coupon again for a blank one, or fill this one in by hand.',
  });
}

export function sheetText({ records }: ReadingsSheet): string {
  return `${records
    .map(({ text }) => text)
    .join('\n')
    .replace(/\n*$/, '')}\n`;
}

/** What a row holds: that with something in it where a feature has several. */
export function rowOf(sheet: ReadingsSheet, feature: string): Readonly<Record<string, string>> | undefined {
  const index = rowIndex(sheet, feature);
  if (index < 0) return undefined;
  const { cells } = sheet.records[index];
  return Object.fromEntries(sheet.columns.map((column, j) => [column, cells[j] ?? '']));
}

/** The sheet with cells of a feature's row written; a row is added when there is none. */
export function writeRow(sheet: ReadingsSheet, feature: string, cells: RowCells): ReadingsSheet {
  const index = rowIndex(sheet, feature);
  const before = index < 0 ? [feature] : sheet.records[index].cells;
  const after = sheet.columns.map((column, j) =>
    column === 'feature' ? feature : ((cells as Record<string, string | undefined>)[column] ?? before[j] ?? ''),
  );
  const text = after.map((cell) => quoted(cell, sheet.delimiter)).join(sheet.delimiter);
  const record: CsvRecord = { line: 0, isComment: false, cells: after, text };
  const records = index < 0 ? [...sheet.records, record] : sheet.records.with(index, record);
  return { ...sheet, records };
}

/** The sheet with a line of its form filled in. */
export function writeForm(sheet: ReadingsSheet, line: string, value: string): ReadingsSheet {
  const example = FORM_LINES.find(([name]) => name === line)?.[1];
  const text = `# ${line}${example ? ` (${example})` : ''}: ${value}`;
  const record: CsvRecord = { line: 0, isComment: true, cells: [text], text };
  const isLine = new RegExp(`^#\\s*${line}\\s*(\\(.*\\))?:`, 'i');
  const index = sheet.records.findIndex(
    ({ isComment, cells }) => isComment && isLine.test(cells.join(sheet.delimiter)),
  );
  if (index >= 0) return { ...sheet, records: sheet.records.with(index, record) };
  const header = sheet.records.indexOf(filledRows(sheet.records)[0] as CsvRecord);
  return { ...sheet, records: sheet.records.toSpliced(header + 1, 0, record) };
}

function rowIndex({ records, columns }: ReadingsSheet, feature: string): number {
  const at = columns.indexOf('feature');
  const rows = records.flatMap(({ isComment, cells }, i) => (!isComment && cells[at] === feature ? [i] : []));
  const filled = rows.filter((i) => {
    const { cells } = records[i];
    return cells[columns.indexOf('reading_mm')] || cells[columns.indexOf('outcome')];
  });
  return filled.at(-1) ?? rows[0] ?? -1;
}

function quoted(cell: string, delimiter: string): string {
  return cell.includes(delimiter) || /["\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}

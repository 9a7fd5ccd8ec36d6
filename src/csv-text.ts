import { visible } from './visible-text.js';

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

/** What is plain in every country and program, as most cells are. */
const PLAIN = /^(?:[\w.][\w. ]*)?$/;

/** A cell ready for a file, in quotation marks where it holds what parts cells in any country (RFC 4180). */
export function csvCell(value: string | number): string {
  if (typeof value === 'string' && PLAIN.test(value)) return value;
  const cell = cellOf(value);
  return /[",;\t\n\r]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell;
}

/** Rows as CSV, the names of the columns first, a line feed after each. */
export function csvText<C extends string>(
  columns: readonly C[],
  rows: readonly Readonly<Record<C, string | number>>[],
): string {
  return csvOf(columns, rows, (row, column) => row[column]);
}

/** The same for rows of another kind, given what stands in their columns. */
export function csvOf<C extends string, R>(
  columns: readonly C[],
  rows: readonly R[],
  cell: (row: R, column: C) => string | number,
): string {
  const line = (row: R): string => columns.map((column) => csvCell(cell(row, column))).join(',');
  return `${[columns.join(','), ...rows.map(line)].join('\n')}\n`;
}

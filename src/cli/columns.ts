import { visible } from '../visible-text.js';
import { wrapWords } from '../wrap-words.js';

/** The widest cell of each column, letters. */
export function columnWidths(rows: readonly (readonly string[])[]): number[] {
  const widths: number[] = [];
  for (const row of rows) {
    for (const [i, cell] of row.entries()) widths[i] = Math.max(widths[i] ?? 0, cell.length);
  }
  return widths;
}

/** A line a row, each column as wide as its widest cell, two spaces apart; `isRight` says which stand to the right. */
export function alignedLines(
  rows: readonly (readonly string[])[],
  isRight: (column: number) => boolean = () => false,
): string[] {
  const widths = columnWidths(rows);
  const pad = (cell: string, i: number): string => (isRight(i) ? cell.padStart(widths[i]) : cell.padEnd(widths[i]));
  return rows.map((row) => row.map(pad).join('  ').trimEnd());
}

/** Columns of words; nothing stands behind the last cell of a line. */
export function columns(cells: readonly (readonly string[])[]): string {
  return alignedLines(cells.map((row) => row.map(visible)))
    .map((line) => `${line}\n`)
    .join('');
}

/** Widest a line of words gets, letters: that of a plain terminal. */
export const LINE_LETTERS = 80;

/** A sentence folded between words, its first line behind `head`, the others indented as far. */
export function folded(head: string, words: string): string {
  const indent = ' '.repeat(head.length);
  const lines = wrapWords(visible(words), (line) => head.length + line.length <= LINE_LETTERS);
  return `${head}${lines.join(`\n${indent}`)}\n`;
}

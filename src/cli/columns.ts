import { visible } from '../visible-text.js';

/** Columns of words, each as wide as its widest cell, two spaces apart; nothing stands behind the last cell of a line. */
export function columns(cells: readonly (readonly string[])[]): string {
  const rows = cells.map((row) => row.map(visible));
  const widths: number[] = [];
  for (const row of rows) {
    for (const [i, cell] of row.entries()) widths[i] = Math.max(widths[i] ?? 0, cell.length);
  }
  return rows
    .map(
      (row) =>
        `${row
          .map((cell, i) => cell.padEnd(widths[i]))
          .join('  ')
          .trimEnd()}\n`,
    )
    .join('');
}

/** Widest a line of words gets, letters: that of a plain terminal. */
const LINE_LETTERS = 80;

/** A sentence folded between words, its first line behind `head`, the others indented as far. */
export function folded(head: string, words: string): string {
  const indent = ' '.repeat(head.length);
  const lines = [head];
  for (const [i, word] of visible(words).split(' ').entries()) {
    const last = lines[lines.length - 1];
    if (i > 0 && last.length + 1 + word.length > LINE_LETTERS) lines.push(`${indent}${word}`);
    else lines[lines.length - 1] = i === 0 ? `${last}${word}` : `${last} ${word}`;
  }
  return `${lines.join('\n')}\n`;
}

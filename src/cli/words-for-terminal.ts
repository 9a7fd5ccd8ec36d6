import { visible, wrapWords } from '../text.js';
import type { Io } from './io.js';

/** What stands before the words of a line: spaces, "12. ", "type in   ", "warning: ", "settings from apertrue.json: ". */
const HEAD = /^\s*(?:\d+\.\s+|[a-z]+: |settings from [^:]+: |\S+(?: \S+){0,2}\s{2,})?/;
/** To be pasted as they stand, or drawn anew: not to be broken. */
const WHOLE = /[\r\u001b]|^\s*(next: )?apertrue |^wrote | {3,}\S+ {2,}\S/;

/** Long lines of words folded between words, so that a terminal doesn't break them within; tables and commands stay. */
function foldLines(text: string, columns: number): string {
  return text
    .split('\n')
    .map((line) => (line.length <= columns || WHOLE.test(line) ? line : foldLine(line, columns)))
    .join('\n');
}

function foldLine(line: string, columns: number): string {
  // A command is pasted: it stands on a line of its own, whole.
  const [, why, command] = /^(next: .*:) (apertrue .*)$/.exec(line) ?? [];
  if (command !== undefined) return `${why.length > columns ? foldLine(why, columns) : why}\n${command}`;
  const head = HEAD.exec(line)?.[0] ?? '';
  // The end of what is asked stays as it is: the answer is typed behind it.
  const [, words, tail] = /^([\s\S]*?)(\s*)$/.exec(line.slice(head.length)) ?? ['', '', ''];
  const indent = ' '.repeat(/: $/.test(head) ? 2 : Math.min(head.length, 16));
  const before = (i: number): string => (i === 0 ? head : indent);
  const lines = wrapWords(words, (part, i) => before(i).length + part.length <= columns);
  return `${lines.map((part, i) => before(i) + part).join('\n')}${tail}`;
}

/** Help as it was written, its paragraphs filled to so many columns. */
export function fillParagraphs(text: string, columns: number): string {
  const lines: string[] = [];
  for (const line of text.split('\n')) {
    const last = lines.at(-1) ?? '';
    const goesOn = /^\S/.test(line) && /^\S/.test(last) && !last.endsWith(':') && !/^Exit codes:/.test(line);
    if (goesOn) lines[lines.length - 1] = `${last} ${line}`;
    else lines.push(line);
  }
  return foldLines(lines.join('\n'), columns);
}

/** Foreground colours by severity: red, yellow, magenta, dim (ECMA-48, Select Graphic Rendition). */
const SGR: Readonly<Record<string, string>> = { error: '31;1', warning: '33', caution: '35', note: '2', hint: '2' };

/** Lines that only say that all went well. */
const QUIET = /^(wrote |note: |hint: |settings from |next: ).*\n/gm;

/**
 * The same world with coloured severities, long lines folded for a terminal, or without the words that only say that all
 * went well.
 *
 * @param isData - what is printed is for another program
 */
export function withWords(
  io: Io,
  { quiet, isData = false }: { readonly quiet: boolean; readonly isData?: boolean },
): Io {
  const said = (text: string): string => {
    const kept = quiet ? text.replace(QUIET, '') : text;
    const folded = io.isTerminal ? foldLines(kept, io.columns) : kept;
    if (!io.colours) return folded;
    return folded.replace(
      /^(error|warning|caution|note|hint):/gm,
      (word, kind: string) => `\u001b[${SGR[kind]}m${word}\u001b[0m`,
    );
  };
  const { outColumns } = io;
  return {
    ...io,
    say: (text) => void (said(text) === '' || io.say(said(text))),
    ...(outColumns === undefined || isData ? {} : { out: (text: string) => io.out(foldLines(text, outColumns)) }),
  };
}

/** A word as it can be pasted into a shell: quoted where a blank or a special sign would cut it. */
export function shellQuoted(word: string): string {
  if (/^[\w./:=@%+,\\-]+$/.test(word)) return word;
  // Double quotes are known to all shells; what they would still read as something else needs single ones.
  return /["$`!\\]/.test(word) ? `'${word.replaceAll("'", "'\\''")}'` : `"${word}"`;
}

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

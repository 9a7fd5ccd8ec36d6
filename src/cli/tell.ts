import { CAUTION } from '../coupon/cautions.js';
import { formatProblem, type Problem, type Warning } from '../errors.js';
import { grouped } from '../kept.js';
import { count, runsOf, visible, wrapWords } from '../text.js';
import type { Watch } from '../work-watch.js';
import { isGrave, isOfUnsaidSize } from './exit-codes.js';
import type { Io } from './io.js';

/*
 * One rule for all commands. The report goes to stdout: words, or with --json one JSON value and nothing else. What
 * was written, notes, warnings, errors, progress and cautions go to stderr, with --json too.
 */

/** One slip can spoil every row of a file: from here on, problems of one kind in one file are only counted. */
const ALIKE_SHOWN = 20;

/** A line of a report. */
export function row(label: string, text: string): string {
  return `  ${visible(label).padEnd(12)}${visible(text)}\n`;
}

/**
 * Says warnings, each on a line with the file it is about; of grave ones the exit code tells.
 *
 * @param listed - codes of those that the report lists
 * @param values - of the options, by which some are not grave
 */
export function sayWarnings(
  warnings: readonly Warning[],
  io: Io,
  file?: string,
  { listed = [], values = io.run.values }: { readonly listed?: readonly string[]; readonly values?: object } = {},
): void {
  if (warnings.some((warning) => isGrave(warning, values))) io.run.isDoubted = true;
  if (warnings.some((warning) => isOfUnsaidSize(warning, values))) io.run.isUnsized = true;
  const beyond = warnings.find(({ code }) => code === 'BEYOND_BED');
  if (beyond) io.run.beyondBed = beyond.hint;
  for (const warning of warnings) {
    const place = { ...warning.place, file: warning.place?.file ?? file };
    if (!listed.includes(warning.code)) io.say(`warning: ${warningText({ ...warning, place })}\n`);
  }
}

/** What a report in words lists opening by opening. */
export const listedIn = ({ json }: { readonly json?: boolean }): { readonly listed: readonly string[] } => ({
  listed: json ? [] : ['NARROWER_THAN_KERF', 'NOT_AS_ASKED'],
});

/** Each warning once: the formats of a stencil, and its copies on a sheet, have the same ones. */
export const eachOnce = (warnings: readonly Warning[]): Warning[] => [
  ...new Map(warnings.map((warning) => [JSON.stringify(warning), warning])).values(),
];

/** A warning in words, with the openings that it is about. */
export const warningText = (warning: Warning): string => `${formatProblem(warning)}${numbersOf(warning)}`;

/** Problems that ended the work on something, each on a line; with --json they are in the value on stdout, too. */
export function sayProblems(problems: readonly Problem[], io: Io): void {
  io.run.problems.push(...problems);
  const alike = grouped(problems, ({ code, place }) => `${code} ${place?.file ?? ''}`);
  const shown = new Set([...alike.values()].flatMap((list) => list.slice(0, ALIKE_SHOWN)));
  for (const problem of problems) if (shown.has(problem)) io.say(`error: ${formatProblem(problem)}\n`);
  for (const list of alike.values()) {
    const [{ place }] = list;
    const more = list.length - ALIKE_SHOWN;
    if (more > 0)
      io.say(
        `error: ${place?.file ? `${visible(place.file)}: ` : ''}${count(more, 'more problem')} like the last of these.\n`,
      );
  }
}

/** The openings that a warning is about, where its sentence does not name them all. */
function numbersOf({ openings = [] }: Warning): string {
  if (openings.length === 0) return '';
  return ` [opening${openings.length === 1 ? '' : 's'} ${runsOf(openings)}]`;
}

/** What was written, each on a line, so that another program can take it. */
export function sayWrote(paths: readonly string[], io: Io): void {
  for (const path of paths) io.say(`wrote ${visible(path)}\n`);
}

export function sayCaution(io: Io): void {
  io.say(`caution: ${CAUTION}\n`);
}

/**
 * Prints a value as JSON, the whole of stdout. Files of a batch that failed stand in the list as `{ file, error }`; where
 * nothing came out, the whole is `{ error }`.
 */
export function printJson(value: unknown, io: Io, replacer?: (key: string, value: unknown) => unknown): void {
  const { problems } = io.run;
  const list = Array.isArray(value) ? (value as readonly unknown[]) : [value];
  const whole =
    problems.length === 0 ? value : list.length === 0 ? errorValue(problems) : [...list, ...failures(problems)];
  io.out(`${JSON.stringify(whole, replacer, 2)}\n`);
}

/** What `--json` prints where there is nothing but an error: the first problem, and all of them. */
export function errorValue(problems: readonly Problem[]): { readonly error: unknown } {
  return { error: { ...problems[0], problems } };
}

function failures(problems: readonly Problem[]): unknown[] {
  return [...grouped(problems, ({ place }) => place?.file)].map(([file, list]) => ({
    ...(file === undefined ? {} : { file }),
    ...errorValue(list),
  }));
}

/** Work that takes no longer needs no progress, ms. */
const SHORT_MS = 1000;
/** Nobody reads a line that is drawn anew more often, ms. */
const REDRAWN_MS = 250;

/**
 * Tells how far work in equal parts is, and about how long the rest will take. Nothing where there is no terminal, with
 * --quiet, or in the first second.
 *
 * @param doing - what is done, for example "correcting file"
 * @returns to be called after each part
 */
export function progressOf(io: Io, doing: string, total: number): () => void {
  const start = io.now().getTime();
  let done = 0;
  return () => {
    done += 1;
    const passedMs = io.now().getTime() - start;
    if (passedMs < SHORT_MS || done >= total) return;
    io.progress?.(`${doing} ${done + 1} of ${total}, ${restWords(passedMs, done, total)}`);
  };
}

/** Tells the same of long work within one file, a step of it after the other. */
export function watchOf(io: Io): Watch {
  let [step, start, drawn] = ['', 0, 0];
  return (doing, done, total) => {
    const now = io.now().getTime();
    if (doing !== step) [step, start] = [doing, now];
    const passedMs = now - start;
    if (passedMs < SHORT_MS || now - drawn < REDRAWN_MS || done === 0) return;
    drawn = now;
    io.progress?.(`${doing}: ${Math.round((100 * done) / total)} %, ${restWords(passedMs, done, total)}`);
  };
}

const restWords = (passedMs: number, done: number, total: number): string =>
  `about ${timeWords((passedMs / done) * (total - done))} left`;

function timeWords(ms: number): string {
  const seconds = Math.max(1, Math.round(ms / 1000));
  return seconds < 90 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
}

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

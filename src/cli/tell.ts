import { formatProblem, type Problem, type Warning } from '../errors.js';
import type { Io } from './io.js';

/*
 * One rule for all commands. The report goes to stdout: words, or with --json one JSON value and nothing else. What
 * was written, notes, warnings, errors, progress and cautions go to stderr, with --json too.
 */

/** Said once wherever something is made that will be cut. */
const CAUTION =
  'an open beam blinds and burns (class 4); never cut PVC, vinyl or unknown film; extract the fumes; stay with the machine. Its manual and local rules come first.';
const NUMBERS_SHOWN = 15;
/** One slip can spoil every row of a file: from here on, problems of one kind in one file are only counted. */
const ALIKE_SHOWN = 20;

/** A line of a report. */
export function row(label: string, text: string): string {
  return `  ${label.padEnd(12)}${text}\n`;
}

/** Warnings, each on a line with the file it is about. */
export function sayWarnings(warnings: readonly Warning[], io: Io, file?: string): void {
  for (const warning of warnings) {
    const place = { ...warning.place, file: warning.place?.file ?? file };
    io.say(`warning: ${formatProblem({ ...warning, place })}${numbersOf(warning)}\n`);
  }
}

/** Problems that ended the work on something, each on a line. */
export function sayProblems(problems: readonly Problem[], io: Io): void {
  const alike = new Map<string, { readonly place: string; count: number }>();
  for (const problem of problems) {
    const place = problem.place?.file ?? '';
    const key = `${problem.code} ${place}`;
    const kind = alike.get(key) ?? { place, count: 0 };
    alike.set(key, kind);
    kind.count += 1;
    if (kind.count <= ALIKE_SHOWN) io.say(`error: ${formatProblem(problem)}\n`);
  }
  for (const { place, count: found } of alike.values()) {
    const more = found - ALIKE_SHOWN;
    if (more > 0) io.say(`error: ${place ? `${place}: ` : ''}${count(more, 'more problem')} like the last of these.\n`);
  }
}

/** The openings that a warning is about, where its sentence does not name them all. */
function numbersOf({ openings = [] }: Warning): string {
  if (openings.length === 0) return '';
  const more = openings.length > NUMBERS_SHOWN ? ', …' : '';
  return ` [opening${openings.length === 1 ? '' : 's'} ${openings.slice(0, NUMBERS_SHOWN).join(', ')}${more}]`;
}

/** What was written, each on a line, so that another program can take it. */
export function sayWrote(paths: readonly string[], io: Io): void {
  for (const path of paths) io.say(`wrote ${path}\n`);
}

export function sayCaution(io: Io): void {
  io.say(`caution: ${CAUTION}\n`);
}

/** Prints a value as JSON, the whole of stdout. */
export function printJson(value: unknown, io: Io, replacer?: (key: string, value: unknown) => unknown): void {
  io.out(`${JSON.stringify(value, replacer, 2)}\n`);
}

/** The word for one or many. */
export function count(n: number, word: string, words = `${word}s`): string {
  return `${n} ${n === 1 ? word : words}`;
}

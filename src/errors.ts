import { visible } from './text.js';

/** A place in something the user gave us: all parts optional, shown in this order. */
export interface Place {
  readonly file?: string;
  readonly line?: number;
  readonly key?: string;
}

/** One thing wrong in the user's data, as a sentence that says what, where, what was found and how to fix it. */
export interface Problem {
  /** Stable name, UPPER_SNAKE_CASE; tests and programs may rely on it. */
  readonly code: string;
  /** What was expected and what was found, one sentence. */
  readonly message: string;
  /** How to fix it, one sentence. */
  readonly hint?: string;
  readonly place?: Place;
}

/** Something the user should know although the work went on. Same shape as a problem, but never fatal. */
export interface Warning extends Problem {
  /** Opening numbers (counting from 1) that the warning is about. */
  readonly openings?: readonly number[];
}

/** One of several things that may be told of a file: whether it is there, or how many; and which openings it is about. */
type Telling = readonly [is: unknown, code: string, message: string, hint?: string, openings?: readonly number[]];

/** Warnings about what is there at all, each with the file's name. */
export function warningsIf(file: string | undefined, tellings: readonly Telling[]): Warning[] {
  const place = { file };
  return tellings.flatMap(([is, code, message, hint, openings]) =>
    is ? [{ code, place, message, hint, openings }] : [],
  );
}

/** Writes a place as `file, line 3, "key"`; empty when nothing is known. */
function formatPlace(place: Place | undefined): string {
  if (!place) return '';
  const parts: string[] = [];
  if (place.file !== undefined) parts.push(place.file);
  if (place.line !== undefined) parts.push(`line ${place.line}`);
  if (place.key !== undefined) parts.push(`"${place.key}"`);
  return parts.join(', ');
}

/** Writes a problem as one line: place, message, remedy; what can't be seen is shown. */
export function formatProblem(problem: Problem): string {
  const place = formatPlace(problem.place);
  return visible(`${place ? `${place}: ` : ''}${problem.message}${problem.hint ? ` ${problem.hint}` : ''}`);
}

/**
 * The user's data or request can't be worked with. A bug in apertrue is never an InputError.
 * `code` is that of the first problem; all problems of one reading are gathered before it is thrown.
 */
export class InputError extends Error {
  readonly code: string;
  readonly problems: readonly Problem[];

  constructor(problems: Problem | readonly Problem[], options?: { cause?: unknown }) {
    const list = Array.isArray(problems) ? (problems as readonly Problem[]) : [problems as Problem];
    super(list.map(formatProblem).join('\n'), options);
    this.name = 'InputError';
    this.code = list[0]?.code ?? 'INPUT';
    this.problems = list;
  }
}

/** @throws {InputError} all of them together */
export function refuseAll(problems: readonly Problem[]): void {
  if (problems.length > 0) throw new InputError(problems);
}

/** @throws {InputError} where something that is wanted is not so */
export function demand(is: boolean, code: string, message: string, hint: string): void {
  if (!is) throw new InputError({ code, message, hint });
}

/** The same error with the file's name put on every problem that has none yet. */
export function inFile(error: InputError, file: string): InputError {
  return new InputError(
    error.problems.map((p) => (p.place?.file === undefined ? { ...p, place: { file, ...p.place } } : p)),
    { cause: error },
  );
}

/** Nothing, for data that can't be worked with; whatever else was thrown goes on. */
export function undefinedIfRefused(error: unknown): undefined {
  if (!(error instanceof InputError)) throw error;
}

/** What the work gives; undefined where its data can't be worked with. */
export function unlessRefused<T>(work: () => T): T | undefined {
  try {
    return work();
  } catch (error) {
    return undefinedIfRefused(error);
  }
}

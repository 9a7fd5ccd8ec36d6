import { formatProblem, InputError } from '../errors.js';
import type { Io } from './io.js';

/** Says a prompt; gives the next line, trimmed, undefined when the input has ended. */
export type Asker = (prompt: string) => Promise<string | undefined>;

/** Work that asks questions on stderr and takes the answers line by line, from a terminal or a pipe. */
export async function asking<T>(io: Io, work: (ask: Asker) => Promise<T>): Promise<T> {
  const lines = io.input?.lines();
  const ask: Asker = async (prompt) => {
    io.say(prompt);
    const next = await lines?.next();
    if (!next || next.done) {
      io.say('\n');
      return undefined;
    }
    // What comes through a pipe is shown, so that questions and answers can be read together afterwards.
    if (!io.input?.isTerminal) io.say(`${next.value}\n`);
    return next.value.trim();
  };
  try {
    return await work(ask);
  } finally {
    await lines?.return?.();
  }
}

/** How often a question is put again to somebody who answers nothing that can be read. */
const MOST_TRIES = 5;

/**
 * Asks until the answer can be read.
 *
 * @param read - throws or rejects with an Error with a sentence when the answer can't be read
 * @param otherwise - the answer of an empty line
 * @param mayEnd - whether it is the answer, too, of an input that has ended, unless that could not be read before
 * @throws {InputError} ANSWER_MISSING when the input ends before
 */
export async function askAtPrompt<T>(
  ask: Asker,
  question: string,
  read: (text: string) => T | Promise<T>,
  flag: string,
  io: Io,
  otherwise?: string,
  mayEnd = false,
): Promise<T> {
  const shown = otherwise === undefined ? `${question}: ` : `${question} [${otherwise}]: `;
  for (let tries = 0; tries < MOST_TRIES; tries += 1) {
    const typed = await ask(shown);
    // Somebody who answered wanted something else than what is usual.
    const text = typed === '' || (mayEnd && typed === undefined && tries === 0) ? otherwise : typed;
    if (text === undefined && typed === undefined) break;
    if (text === undefined) continue;
    try {
      return await read(text);
    } catch (error) {
      // What is said of a pattern or a file is said of the answer here.
      const problem = error instanceof InputError && formatProblem({ ...error.problems[0], place: undefined });
      io.say(`  ${problem || (error instanceof Error ? error.message : String(error))}\n`);
    }
  }
  throw new InputError({
    code: 'ANSWER_MISSING',
    place: { key: flag },
    message: 'this is needed, and there was no answer that could be read.',
    hint: `Answer the question, or give ${flag}.`,
  });
}

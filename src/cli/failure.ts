import { InputError, inFile, type Problem } from '../errors.js';
import { isSystemError, systemReason } from './file-problem.js';

/** The code of what is no fault of the user's data. */
export const BUG = 'BUG';

/** What the engine says when something is longer, larger or nested deeper than it can hold. */
const BEYOND_THE_ENGINE =
  /call stack|Invalid (?:string|array|typed array|array buffer) length|allocation failed|Cannot create a string longer|invalid size|out of memory/i;
const ENGINE_CODES = new Set([
  'ERR_STRING_TOO_LONG',
  'ERR_BUFFER_TOO_LARGE',
  'ERR_MEMORY_ALLOCATION_FAILED',
  'ERR_WORKER_OUT_OF_MEMORY',
]);

/**
 * Anything that was thrown as problems in words: what is wrong with the user's data; what is more than this computer or
 * the system gives; else a bug, code BUG, which ends one file of a batch and not the others.
 */
export function problemsOf(error: unknown, file?: string): readonly Problem[] {
  const place = file === undefined ? undefined : { file };
  if (error instanceof InputError) return (file === undefined ? error : inFile(error, file)).problems;
  const text = error instanceof Error ? error.message : String(error);
  const { code } = (error ?? {}) as NodeJS.ErrnoException;
  if (ENGINE_CODES.has(code ?? '') || (error instanceof RangeError && BEYOND_THE_ENGINE.test(text))) {
    return [
      {
        code: 'TOO_MUCH',
        place,
        message: 'it is larger, longer or nested deeper than this program can hold.',
        hint: 'Check that this is the right file; export it smaller or in parts.',
      },
    ];
  }
  if (isSystemError(code)) return [{ code: 'SYSTEM_REFUSED', place, ...systemReason(code) }];
  return [
    {
      code: BUG,
      place,
      message: `a bug in apertrue: ${text}.`.replace(/\.\.$/, '.'),
      hint: 'Please report it with the output of the same command and --debug.',
    },
  ];
}

/** Names the file whose openings were too much for a step that knows only openings. */
export function workingOn<T>(file: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof InputError && error.code === 'TOO_MUCH' ? inFile(error, file) : error;
  }
}

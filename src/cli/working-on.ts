import { InputError, inFile } from '../errors.js';

/** Names the file whose openings were too much for a step that knows only openings. */
export function workingOn<T>(file: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof InputError && error.code === 'TOO_MUCH' ? inFile(error, file) : error;
  }
}

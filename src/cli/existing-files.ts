import { InputError, type Problem } from '../errors.js';
import type { Io } from './io.js';

/** A file that would be replaced and was not meant to be. */
export function fileExists(path: string): Problem {
  return {
    code: 'FILE_EXISTS',
    place: { file: path },
    message: 'the file exists already.',
    hint: 'Give --overwrite to replace it, or another --out.',
  };
}

/**
 * Refuses before anything is written, so that results are never half new and half old.
 *
 * @throws {InputError} FILE_EXISTS for each of the paths that is there
 */
export async function refuseExisting(paths: readonly string[], io: Io): Promise<void> {
  const existing = await existingFiles(paths, io);
  if (existing.length > 0) throw new InputError(existing);
}

/** A problem for each of the paths that is there. */
export async function existingFiles(paths: readonly string[], io: Io): Promise<Problem[]> {
  const existing: Problem[] = [];
  for (const path of paths) if (await io.exists(path)) existing.push(fileExists(path));
  return existing;
}

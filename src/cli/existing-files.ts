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

/** A result that would take the place of what it is made from; `input` is the name under which that was read. */
export function wouldReplaceInput(path: string, input: string): Problem {
  return {
    code: 'WOULD_REPLACE_INPUT',
    place: { file: path },
    message:
      path === input
        ? 'the result would replace a file that it is made from.'
        : `the result would replace ${input}, which it is made from: both names are one file.`,
    hint: 'Choose another name or folder with --out.',
  };
}

/**
 * Refuses before anything is written, so that results are never half new and half old. What this run has read is never
 * replaced, by whatever name.
 *
 * @throws {InputError} WOULD_REPLACE_INPUT, and FILE_EXISTS unless `overwrite`, for each of the paths
 */
export async function refuseExisting(
  paths: readonly string[],
  io: Io,
  { overwrite = false }: { readonly overwrite?: boolean } = {},
): Promise<void> {
  const inTheWay = await existingFiles(paths, io, { overwrite });
  if (inTheWay.length > 0) throw new InputError(inTheWay);
}

/** A problem for each of the paths that may not be written. */
export async function existingFiles(
  paths: readonly string[],
  io: Io,
  { overwrite = false }: { readonly overwrite?: boolean } = {},
): Promise<Problem[]> {
  const problems: Problem[] = [];
  for (const path of paths) {
    const input = await io.inputAt(path);
    if (input !== undefined) problems.push(wouldReplaceInput(path, input));
    else if (!overwrite && (await io.exists(path))) problems.push(fileExists(path));
  }
  return problems;
}

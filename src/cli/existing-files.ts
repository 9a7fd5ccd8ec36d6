import { InputError, type Problem } from '../errors.js';
import { fileExists, wouldReplaceInput } from './file-problem.js';
import type { Io } from './io.js';

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

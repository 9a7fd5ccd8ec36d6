import { packageJson } from '../package-file.js';
import { parseJsonText } from './json-file.js';
import { type JsonSchema, readInForm } from './of-form.js';
import type { Reader, refuseMisfit } from './refuse-misfit.js';

const shipped = (name: string) => packageJson<JsonSchema>(`patterns/schemas/${name}.schema.json`);

/**
 * Reads a file of a kind that has a schema in patterns/schemas.
 *
 * @param refuse - says what is wrong with a file that does not fit
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key, and what `reader` tells of
 */
export function parseShippedBy<T, R>(
  refuse: typeof refuseMisfit,
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R>,
): R {
  return read(name, text, file, reader)?.result ?? refuse(shipped(name), text, file, reader);
}

/** The same, where what says what is wrong, and takes longer to load than most files to read, is loaded when it is needed. */
export async function parseShipped<T, R = T>(
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R> = (value) => value as unknown as R,
): Promise<R> {
  const fits = read(name, text, file, reader);
  if (fits) return fits.result;
  const { refuseMisfit } = await import('./refuse-misfit.js');
  return refuseMisfit(shipped(name), text, file, reader);
}

function read<T, R>(name: string, text: string, file: string, reader: Reader<T, R>): { result: R } | undefined {
  const fits = readInForm(parseJsonText(text, file), shipped(name));
  if (!fits) return undefined;
  let isSound = true;
  const result = reader(fits.value as T, {
    addIssue: () => {
      isSound = false;
    },
  });
  return isSound ? { result } : undefined;
}

import { InputError, type Problem } from '../errors.js';
import { decodeText } from '../readings/decode-text.js';
import { parseReadings } from '../readings/parse-readings.js';
import type { Reading } from '../readings/types.js';
import type { Io } from './io.js';

/**
 * Refuses to replace readings files that somebody has filled in: an evening at the bench is in them. Holds under
 * --overwrite too.
 *
 * @param worth - whether readings are worth keeping; any are, if not given
 * @throws {InputError} READINGS_FILLED_IN
 */
export async function refuseFilledReadings(
  paths: readonly string[],
  io: Io,
  worth: (readings: readonly Reading[]) => boolean = (readings) => readings.length > 0,
): Promise<void> {
  const problems: Problem[] = [];
  for (const path of paths) {
    if (!path.endsWith('.readings.csv') || !(await io.exists(path))) continue;
    if (await isFilled(path, io, worth)) {
      problems.push({
        code: 'READINGS_FILLED_IN',
        place: { file: path },
        message: 'the file holds readings, which are never replaced.',
        hint: 'Choose another --out, or move the readings away first.',
      });
    }
  }
  if (problems.length > 0) throw new InputError(problems);
}

/** Lengths that all come from a scan can be had again from it; outcomes alone may have been confirmed by a person. */
export function notFromScan(readings: readonly Reading[]): boolean {
  const lengths = readings.filter(({ readingMm }) => readingMm !== undefined);
  return (
    readings.length > 0 && (lengths.length === 0 || lengths.some(({ uncertaintyMm }) => uncertaintyMm === undefined))
  );
}

/** A file that can't be read as readings holds something of the user's, too. */
async function isFilled(path: string, io: Io, worth: (readings: readonly Reading[]) => boolean): Promise<boolean> {
  const text = decodeText(await io.lookAt(path));
  try {
    const { readings, form } = parseReadings(text, path);
    return worth(readings) || Object.keys(form).length > 0;
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.code !== 'NO_ROWS';
  }
}

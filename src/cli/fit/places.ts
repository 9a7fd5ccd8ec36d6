import { parseFeatures } from '../../coupon/parse-features.js';
import { InputError, type Problem } from '../../errors.js';
import type { FilmPlaces } from '../../fit/field/straight-residuals.js';
import { decodeText } from '../../readings/decode-text.js';
import { isPlaces, parsePlaces } from '../../readings/parse-places.js';
import type { Io } from '../io.js';
import { findFeatures } from './input.js';

/** Splits the files into readings and places of marks, and reads the latter. */
export async function readPlaces(
  patterns: readonly string[],
  io: Io,
): Promise<{ readonly readings: readonly string[]; readonly films: readonly FilmPlaces[] }> {
  const readings: string[] = [];
  const films: FilmPlaces[] = [];
  const problems: Problem[] = [];
  for (const pattern of patterns) {
    const files = await io.expand(pattern);
    // A pattern that matches nothing is told of where readings are read.
    if (files.length === 0) readings.push(pattern);
    for (const file of new Set(files)) {
      try {
        const text = await io.readFile(file).then(decodeText, () => '');
        if (!isPlaces(text)) readings.push(file);
        else films.push(await filmOf(text, file, io));
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        problems.push(...error.problems);
      }
    }
  }
  if (problems.length > 0) throw new InputError(problems);
  return { readings, films };
}

async function filmOf(text: string, file: string, io: Io): Promise<FilmPlaces> {
  const marks = parsePlaces(text, file);
  const path = await findFeatures(file, [], io);
  const { coupon, canvas } = parseFeatures(decodeText(await io.readFile(path)), path);
  return { coupon, canvas, marks };
}

/** @throws {InputError} FIELD_ALONE */
export function refuseAlone(): never {
  throw new InputError({
    code: 'FIELD_ALONE',
    message: 'places of marks tell how the bed is bent, but neither its scale nor the kerf.',
    hint: 'Give the readings of the coupons too, or a profile to add to (--add-to).',
  });
}

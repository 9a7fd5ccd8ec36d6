import { basename } from 'node:path';
import { formatProblem, InputError } from '../errors.js';
import { type CalibrationResult, fitSessions } from '../fit/calibration/index.js';
import { filmHazard } from '../profile/film-hazards.js';
import { makeProfile } from '../profile/make-profile.js';
import { profileText } from '../profile/profile-text.js';
import type { ProcessWindow, Profile, ReadingSession } from '../profile/types.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import type { FitOptionValues } from './fit.js';
import { readSessions } from './fit-input.js';
import { tellFit } from './fit-tell.js';
import type { Io } from './io.js';

/** Reads, fits, tells, writes. */
export async function runFit(patterns: readonly string[], values: FitOptionValues, io: Io): Promise<ExitCode> {
  refuseFilm(values.film);
  if (values.out !== undefined && !values.overwrite && (await io.exists(values.out))) throw existing(values.out);
  const sessions = await readSessions(patterns, values, io);
  const result = fitSessions(sessions, { resolutionMm: values.resolutionMm, drop: values.drop });
  const profile = profileOf(values, sessions, result);
  if (values.out !== undefined) {
    await io.writeFile(values.out, profileText(profile), { overwrite: values.overwrite === true });
  }
  if (values.json) io.out(`${JSON.stringify({ format: 'apertrue-fit', version: 1, ...result, profile }, null, 2)}\n`);
  else await tellFit(result, values, io);
  for (const warning of result.warnings) io.say(`warning: ${formatProblem(warning)}\n`);
  io.say(values.out === undefined ? 'Nothing was written; --out FILE writes the profile.\n' : `wrote ${values.out}\n`);
  return EXIT.done;
}

function refuseFilm(film: string | undefined): void {
  const hazard = film === undefined ? undefined : filmHazard(film);
  if (hazard?.verdict !== 'never') return;
  throw new InputError({
    code: 'FILM_NOT_FOR_LASERS',
    place: { key: '--film' },
    message: `"${film}" must never be lasered: ${hazard.reason}.`,
    hint: 'Take a film that its maker names as free of chlorine and fluorine, such as plain PET, and keep to the manual of the machine.',
  });
}

function existing(file: string): InputError {
  return new InputError({
    code: 'FILE_EXISTS',
    place: { file },
    message: 'the file exists already.',
    hint: 'Give --overwrite to replace it, or another --out.',
  });
}

function profileOf(
  values: FitOptionValues,
  sessions: readonly ReadingSession[],
  result: CalibrationResult,
  window?: ProcessWindow,
): Profile {
  const stem = values.out === undefined ? 'unnamed' : basename(values.out).replace(/(\.profile)?\.json$/i, '');
  const defined = <T extends object>(record: T): T =>
    Object.fromEntries(Object.entries(record).filter(([, value]) => value !== undefined)) as T;
  return makeProfile({
    name: values.name ?? stem,
    machine: values.machine,
    film: defined({ kind: values.film, thicknessMm: values.thicknessMm }),
    settings: defined({ powerPercent: values.powerPercent, speedMmS: values.speedMmS, passes: values.passes }),
    fit: result.fit,
    window,
    sessions,
  });
}

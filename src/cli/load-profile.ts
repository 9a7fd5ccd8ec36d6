import { InputError } from '../errors.js';
import { refuseFilm } from '../machine/film-hazards.js';
import { parseProfile } from '../machine/parse-profile.js';
import type { Profile } from '../machine/types.js';
import type { Io } from './io.js';
import { projectDisagrees } from './project-disagrees.js';
import { findProject, fromProject } from './project-file.js';
import { noteDoubt, sayWarnings } from './tell.js';

function notMade(path: string): InputError {
  return new InputError({
    code: 'PROFILE_NOT_MADE',
    place: { file: path },
    message: 'this profile, which apertrue.json names, is not there yet.',
    hint: 'Cut and read the coupons first; apertrue fit then writes it.',
  });
}

interface ReadProfile {
  readonly profile: Profile;
  /** For hashing. */
  readonly bytes: Uint8Array;
}

/** Reads a profile, of a film that may be lasered. */
export async function readProfile(path: string, io: Io): Promise<ReadProfile> {
  const bytes = await io.readFile(path);
  const profile = await parseProfile(new TextDecoder().decode(bytes), path);
  refuseFilm(profile.film?.kind, { file: path, key: 'film.kind' });
  return { profile, bytes };
}

/** The same for a command to work with: where it is the profile of the project file, the two are held against each other. */
export async function loadProfile(path: string, io: Io): Promise<ReadProfile> {
  const found = await findProject(io).catch(() => undefined);
  const isProjects = found?.project.profile !== undefined && fromProject(found, found.project.profile) === path;
  if (isProjects && !found.hasProfile) throw notMade(path);
  const read = await readProfile(path, io);
  const warnings = isProjects ? projectDisagrees(found.project, read.profile) : [];
  sayWarnings(warnings, io);
  if (warnings.length > 0) noteDoubt(io);
  return read;
}

import { refuseFilm } from '../machine/film-hazards.js';
import { parseProfile } from '../machine/parse-profile.js';
import type { Profile } from '../machine/types.js';
import type { Io } from './io.js';
import { projectDisagrees } from './project-disagrees.js';
import { findProject, fromProject } from './project-file.js';
import { noteDoubt, sayWarnings } from './tell.js';

/**
 * Reads a profile, and gives its bytes too, for hashing. Where it is the one of the project file, the two are held against
 * each other.
 */
export async function loadProfile(path: string, io: Io): Promise<{ profile: Profile; bytes: Uint8Array }> {
  const bytes = await io.readFile(path);
  const profile = await parseProfile(new TextDecoder().decode(bytes), path);
  refuseFilm(profile.film?.kind, { file: path, key: 'film.kind' });
  const found = await findProject(io).catch(() => undefined);
  if (found?.project.profile !== undefined && fromProject(found, found.project.profile) === path) {
    const warnings = projectDisagrees(found.project, profile);
    sayWarnings(warnings, io);
    if (warnings.length > 0) noteDoubt(io);
  }
  return { profile, bytes };
}

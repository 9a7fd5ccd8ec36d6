import { InputError, type Warning } from '../errors.js';
import { refuseFilm } from '../machine/film-hazards.js';
import { parseProfile } from '../machine/profile-file.js';
import type { Profile } from '../machine/types.js';
import type { Project } from '../project/project.js';
import type { Io } from './io.js';
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

/** Lengths that differ by less than this share are the same, rounded. */
const SAME_SHARE = 0.02;

const differ = (a = 0, b = 0): boolean => Math.abs(a - b) > SAME_SHARE * Math.max(a, b);
const plain = (words?: string): string | undefined => words?.trim().toLowerCase();

/** What a project file says of machine and film that is not what its profile was made with: one of them is out of date. */
export function projectDisagrees({ machine, film, pitchMm }: Project, profile: Profile): Warning[] {
  const [mine, its] = [film?.thicknessMm, profile.film?.thicknessMm];
  const pairs: readonly (readonly [what: string, said: string | undefined, known: string | undefined, isOther: boolean])[] = [
    ['machine', machine, profile.machine, plain(machine) !== plain(profile.machine)],
    ['film', film?.kind, profile.film?.kind, plain(film?.kind) !== plain(profile.film?.kind)],
    ['thickness', mine ? `${mine} mm` : undefined, its ? `${its} mm` : undefined, differ(mine, its)],
    [
      'pitch',
      pitchMm && `${pitchMm.x} x ${pitchMm.y} mm`,
      profile.pitchMm && `${profile.pitchMm.x} x ${profile.pitchMm.y} mm`,
      (['x', 'y'] as const).some((axis) => differ(pitchMm?.[axis], profile.pitchMm?.[axis])),
    ],
  ] as const; // biome-ignore format: one line a fact
  return pairs.flatMap(([what, said, known, isOther]) =>
    said && known && isOther
      ? [
          {
            code: 'PROJECT_DISAGREES',
            message: `apertrue.json says ${what} ${said}, and its profile was made with ${what} ${known}, which is what counts.`,
            hint: 'Fit a profile for what you use now, or mend apertrue.json.',
          },
        ]
      : [],
  );
}

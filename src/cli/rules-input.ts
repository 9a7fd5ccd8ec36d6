import { InputError } from '../errors.js';
import type { Profile } from '../machine/types.js';
import { type LaserLimits, laserLimits } from '../rules/film.js';
import type { Io } from './io.js';
import { loadProfile } from './load-profile.js';

/** The film and the laser as a command was told of them. */
export interface FilmFacts {
  readonly thicknessMm: number;
  readonly profile?: Profile;
  readonly profileLimits: LaserLimits;
}

/**
 * Film thickness and the laser's limits from the options, else from the profile.
 *
 * @throws {InputError} THICKNESS_UNKNOWN when neither says how thick the film is
 */
export async function filmFacts(
  values: { readonly profile?: string; readonly thicknessMm?: number },
  io: Io,
): Promise<FilmFacts> {
  const profile = values.profile === undefined ? undefined : (await loadProfile(values.profile, io)).profile;
  const thicknessMm = values.thicknessMm ?? profile?.film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      place: values.profile === undefined ? undefined : { file: values.profile, key: 'film.thicknessMm' },
      message: 'the thickness of the film is not known.',
      hint: 'Give --thickness-mm, for example 0.1, or a profile that says it.',
    });
  }
  return { thicknessMm, profile, profileLimits: laserLimits(profile?.limits) };
}

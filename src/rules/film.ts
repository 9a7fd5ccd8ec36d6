import { InputError } from '../errors.js';
import type { Profile } from '../profile/types.js';

/** How the film and the laser are told to a check or a treatment. */
export interface FilmOptions {
  /** Thickness of the film, mm; default: the profile's. */
  readonly thicknessMm?: number;
  /** What this laser opens, and what stands, in this film; taken before the profile's. */
  readonly profileLimits?: { readonly minOpeningMm?: number; readonly minWebMm?: number };
  readonly profile?: Pick<Profile, 'film' | 'limits'>;
}

export interface Film {
  readonly thicknessMm: number;
  readonly minOpeningMm?: number;
  readonly minWebMm?: number;
}

/**
 * The film's thickness and the laser's limits.
 *
 * @throws {InputError} THICKNESS when the thickness is unknown or no number above 0
 */
export function filmOf({ thicknessMm, profileLimits, profile }: FilmOptions): Film {
  const thickness = thicknessMm ?? profile?.film?.thicknessMm;
  if (thickness === undefined || !Number.isFinite(thickness) || thickness <= 0) {
    throw new InputError({
      code: 'THICKNESS',
      message: `expected the film thickness in mm, a number above 0, found ${thickness ?? 'nothing'}.`,
      hint: 'For example 0.1.',
    });
  }
  const minOpeningMm = profileLimits?.minOpeningMm ?? profile?.limits?.minOpeningMm;
  const minWebMm = profileLimits?.minWebMm ?? profile?.limits?.minWebMm;
  return {
    thicknessMm: thickness,
    ...(minOpeningMm === undefined ? {} : { minOpeningMm }),
    ...(minWebMm === undefined ? {} : { minWebMm }),
  };
}

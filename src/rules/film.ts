import { InputError } from '../errors.js';
import { checkGiven } from '../given.js';
import type { Profile } from '../machine/types.js';

/** How the film and the laser are told to a check or a treatment. */
export interface FilmOptions {
  /** Thickness of the film, mm; default: the profile's. */
  readonly thicknessMm?: number;
  /** What this laser opens, and what stands, in this film; taken before the profile's. */
  readonly profileLimits?: LaserLimits;
  readonly profile?: Pick<Profile, 'film' | 'limits'>;
}

export interface Film extends LaserLimits {
  readonly thicknessMm: number;
}

/** What a laser opens, and what stands, in a film. */
export interface LaserLimits {
  readonly minOpeningMm?: number;
  readonly minWebMm?: number;
  /** Where all openings of a ladder came through: the smallest; the limit lies below it. */
  readonly smallestOpenedMm?: number;
  /** Where all webs of a ladder stand: the smallest. */
  readonly smallestStoodMm?: number;
}

const LIMIT_NAMES = ['minOpeningMm', 'minWebMm', 'smallestOpenedMm', 'smallestStoodMm'] as const;

/** Those that are given, and nothing else. */
export function laserLimits(limits: LaserLimits | undefined): LaserLimits {
  const given = LIMIT_NAMES.filter((name) => limits?.[name] !== undefined);
  return Object.fromEntries(given.map((name) => [name, limits?.[name]]));
}

/**
 * The film's thickness and the laser's limits.
 *
 * @throws {InputError} THICKNESS when the thickness is unknown or no number above 0
 */
export function filmOf(options: FilmOptions): Film {
  checkGiven('options', options, {});
  const { thicknessMm, profileLimits, profile } = options;
  const thickness = thicknessMm ?? profile?.film?.thicknessMm;
  if (thickness === undefined || !Number.isFinite(thickness) || thickness <= 0) {
    throw new InputError({
      code: 'THICKNESS',
      message: `expected the film thickness in mm, a number above 0, found ${thickness ?? 'nothing'}.`,
      hint: 'For example 0.1.',
    });
  }
  return { thicknessMm: thickness, ...laserLimits(profile?.limits), ...laserLimits(profileLimits) };
}

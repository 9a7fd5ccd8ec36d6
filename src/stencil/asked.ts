import { InputError, type Warning } from '../errors.js';
import { composeMaps, IDENTITY, mapOpenings, rotation, scaling } from '../geometry/affine.js';
import type { Affine, Opening } from '../geometry/types.js';
import type { Profile } from '../machine/types.js';
import type { RuleSet } from '../rules/treat/rule-types.js';
import { type TreatResult, treatOpenings } from '../rules/treat/treat.js';

/** A layer, as far as its stencil depends on it. Artwork as it was read is one. */
export interface StencilArtwork {
  /** Film mm, numbered from 1 in this order. */
  readonly openings: readonly Opening[];
  readonly side?: 'top' | 'bottom';
}

/** What the film shall look like, before anything is corrected. */
export interface AskedOptions {
  /** Default `auto`: bottom layers are mirrored. */
  readonly mirror?: 'auto' | 'yes' | 'no';
  /** Turned counter-clockwise, after mirroring; default 0. */
  readonly rotateDeg?: Turn;
  /** Rules that the openings go through first; numbers count the openings that come back. */
  readonly rules?: RuleSet;
  /** Film thickness for the rules, mm; default the profile's. */
  readonly thicknessMm?: number;
}

/** What the film shall look like. */
export interface Asked {
  /** As they shall lie on the film, mm: treated, mirrored, turned. */
  readonly openings: readonly Opening[];
  /** Treated, in the artwork's own coordinates. */
  readonly treated: readonly Opening[];
  /** From the artwork's coordinates to the film's. */
  readonly map: Affine;
  readonly side?: 'top' | 'bottom';
  readonly mirrored: boolean;
  /** The rule set that the openings went through, how many there were before, and how many changes it made. */
  readonly rules?: { readonly mark: string; readonly before: number; readonly changes: number };
  readonly warnings: readonly Warning[];
}

/** The parts of a profile that rules need. */
export type FilmOfProfile = Partial<Pick<Profile, 'film' | 'limits'>>;

/**
 * Treats, mirrors and turns a layer's openings.
 *
 * @throws {InputError} THICKNESS_UNKNOWN for rules without the thickness of the film, and what {@link treatOpenings} throws
 */
export function askFor(artwork: StencilArtwork, profile: FilmOfProfile, options: AskedOptions): Asked {
  const { openings, side } = artwork;
  const result = options.rules && treated(openings, options.rules, profile, options.thicknessMm);
  const mirrored = isMirrored(options.mirror, side);
  const map = laying(mirrored, options.rotateDeg ?? 0);
  const kept = result?.openings ?? openings;
  return {
    openings: mapOpenings(map, kept),
    treated: kept,
    map,
    ...(side ? { side } : {}),
    mirrored,
    ...(result ? { rules: { mark: result.mark, before: openings.length, changes: result.changes.length } } : {}),
    warnings: result?.warnings ?? [],
  };
}

function treated(
  openings: readonly Opening[],
  rules: RuleSet,
  { film, limits }: FilmOfProfile,
  givenMm: number | undefined,
): TreatResult {
  const thicknessMm = givenMm ?? film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      message: 'the rules need the thickness of the film, and neither the options nor the profile say it.',
      hint: 'Give --thickness-mm, for example 0.1.',
    });
  }
  return treatOpenings(openings, rules, { thicknessMm, profileLimits: limits ?? {} });
}

export type Turn = 0 | 90 | 180 | 270;

/** Whether a layer is mirrored: bottom layers are, unless the user says otherwise. */
function isMirrored(choice: 'auto' | 'yes' | 'no' | undefined, side: 'top' | 'bottom' | undefined): boolean {
  return choice === 'yes' || (choice !== 'no' && side === 'bottom');
}

/** Mirroring and turning come before the correction: the machine's axes do not turn with the artwork. */
export function laying(mirrored: boolean, rotateDeg: Turn): Affine {
  if (!mirrored && rotateDeg === 0) return IDENTITY;
  return composeMaps(rotation(rotateDeg), mirrored ? scaling(-1, 1) : IDENTITY);
}

import type { Artwork } from '../../artwork/types.js';
import { InputError, type Warning } from '../../errors.js';
import type { Opening } from '../../geometry/types.js';
import type { Profile } from '../../machine/types.js';
import { readRules } from '../../rules/treat/read-rules.js';
import { withFileMarks } from '../../rules/treat/svg-mark.js';
import { treatOpenings } from '../../rules/treat/treat.js';

/** A rule set on its way into a job: plain data, so that it can go to another thread. */
export interface RulesToApply {
  readonly text: string;
  readonly file: string;
  /** Film thickness, mm; not given: the profile's. */
  readonly thicknessMm?: number;
}

export interface Treated {
  readonly openings: readonly Opening[];
  readonly warnings: readonly Warning[];
  /** Name of the rule set and a digest of its text. */
  readonly mark?: string;
  readonly changes: number;
}

/** Artwork's openings as they are, or after a rule set. Numbers count the openings that come back. */
export async function treatStep(
  artwork: Artwork,
  bytes: Uint8Array,
  rules: RulesToApply | undefined,
  profile: Profile,
): Promise<Treated> {
  if (!rules) return { openings: artwork.openings, warnings: [], changes: 0 };
  const thicknessMm = rules.thicknessMm ?? profile.film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      message: 'the rules need the thickness of the film, and neither the options nor the profile say it.',
      hint: 'Give --thickness-mm, for example 0.1.',
    });
  }
  const set = await readRules(rules.text, rules.file);
  const result = treatOpenings(withFileMarks(artwork.openings, bytes), set, {
    thicknessMm,
    profileLimits: profile.limits ?? {},
  });
  return { openings: result.openings, warnings: result.warnings, mark: result.mark, changes: result.changes.length };
}

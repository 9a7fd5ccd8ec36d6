import type { Warning } from '../errors.js';
import type { Profile } from '../machine/types.js';
import type { Project } from '../project/project.js';

/** Lengths that differ by less than this share are the same, rounded. */
const SAME_SHARE = 0.02;

const differ = (a: number, b: number): boolean => Math.abs(a - b) > SAME_SHARE * Math.max(a, b);

/** What a project file says of machine and film that is not what its profile was made with: one of them is out of date. */
export function projectDisagrees({ machine, film, pitchMm }: Project, profile: Profile): Warning[] {
  const kinds = [film?.kind, profile.film?.kind].map((kind) => kind?.trim().toLowerCase());
  const [mine, its] = [film?.thicknessMm, profile.film?.thicknessMm];
  const pairs: readonly (readonly [what: string, said: string | undefined, known: string | undefined, isOther: boolean])[] = [
    ['machine', machine, profile.machine, machine?.trim().toLowerCase() !== profile.machine?.trim().toLowerCase()],
    ['film', film?.kind, profile.film?.kind, kinds[0] !== kinds[1]],
    ['thickness', mine ? `${mine} mm` : undefined, its ? `${its} mm` : undefined, differ(mine ?? 0, its ?? 0)],
    [
      'pitch',
      pitchMm && `${pitchMm.x} x ${pitchMm.y} mm`,
      profile.pitchMm && `${profile.pitchMm.x} x ${profile.pitchMm.y} mm`,
      (['x', 'y'] as const).some((axis) => differ(pitchMm?.[axis] ?? 0, profile.pitchMm?.[axis] ?? 0)),
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

import type { Warning } from '../errors.js';
import type { Profile } from '../machine/types.js';
import type { Project } from '../project/project.js';

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

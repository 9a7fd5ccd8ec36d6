import type { Profile, ReadingSession } from '../../profile/types.js';
import { predictLength } from './length-model.js';
import type { Observations } from './observations.js';

interface Piece {
  readonly id: string;
  readonly filmMm: number;
  readonly survives: boolean;
}

/**
 * The smallest opening that comes through and the smallest web that stands, from what was `closed` or `gone`: the
 * smallest of which it and all wider ones did. Widths as on the film. Nothing is said of a kind of which nothing
 * failed: then the limit lies below what was tried.
 */
export function readLimits(
  all: Observations,
  sessions: readonly ReadingSession[],
  parameters: readonly number[],
): Profile['limits'] {
  const opening = smallest(pieces('opening', all, sessions, parameters));
  const web = smallest(pieces('web', all, sessions, parameters));
  const evidence = [
    ...(opening ? [`openings: ${opening.failed} did not come through${sayBest(opening, 'came through')}`] : []),
    ...(web ? [`webs: ${web.failed} burnt away${sayBest(web, 'stands')}`] : []),
  ];
  if (evidence.length === 0) return undefined;
  return {
    ...(opening?.best ? { minOpeningMm: rounded(opening.best.filmMm) } : {}),
    ...(web?.best ? { minWebMm: rounded(web.best.filmMm) } : {}),
    evidence,
  };
}

const rounded = (mm: number): number => Math.round(mm * 1e4) / 1e4;

interface Smallest {
  readonly best?: Piece;
  readonly failed: string;
}

function sayBest({ best }: Smallest, did: string): string {
  return best
    ? `; ${best.id} (${best.filmMm.toFixed(3)} mm on the film) ${did}, and all wider ones`
    : '; no wider one was tried';
}

function smallest(all: readonly Piece[]): Smallest | undefined {
  const failed = all.filter(({ survives }) => !survives);
  if (failed.length === 0) return undefined;
  const limit = Math.max(...failed.map(({ filmMm }) => filmMm));
  const above = all.filter(({ survives, filmMm }) => survives && filmMm > Math.max(limit, 0));
  const best = above.sort((a, b) => a.filmMm - b.filmMm)[0];
  const names = [...new Set(failed.map(({ id }) => id))];
  return {
    ...(best ? { best } : {}),
    failed: names.length > 5 ? `${names.slice(0, 4).join(', ')} and ${names.length - 4} more` : names.join(', '),
  };
}

/** Every opening or web that was looked at, and of coupons of which something failed also those that were not marked. */
function pieces(
  kind: 'opening' | 'web',
  all: Observations,
  sessions: readonly ReadingSession[],
  parameters: readonly number[],
): Piece[] {
  const failed = new Set(
    all.eye.filter((eye) => eye.kind === kind).map(({ session, feature }) => `${session} ${feature.id}`),
  );
  const read = new Set(all.lengths.map(({ session, feature }) => `${session} ${feature.id}`));
  return sessions.flatMap(({ features }, session) => {
    const anyFailed = features.some(({ id }) => failed.has(`${session} ${id}`));
    return features.flatMap((feature): Piece[] => {
      if (feature.kind !== kind) return [];
      const key = `${session} ${feature.id}`;
      if (!failed.has(key) && !read.has(key) && !anyFailed) return [];
      const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
      const filmMm = predictLength({ kind, dx, dy }, parameters);
      return [{ id: feature.id, filmMm, survives: !failed.has(key) }];
    });
  });
}

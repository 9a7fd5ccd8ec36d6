import { DisjointSets } from '../geometry/disjoint-sets.js';
import { largest, smallest } from '../geometry/extremes.js';
import { directionOf, distanceOf } from './group-chips.js';
import { type Cluster, type GroupMember, turnBetween } from './group-classes.js';

/** Chips in line stand no farther apart, pad to pad, than this many of the smallest spacing in the line. */
const CHAIN_REACH = 1.5;

/**
 * Chips in line, end to end: the gap to the next chip may be smaller than the gap under a chip, and nearest neighbours
 * then belong to different chips. The ends of the line tell: its first two pads are one chip, the next two another.
 *
 * @param pairs - nearest neighbours
 * @param lone - pads that no pair claims
 * @returns pairs as the lines have them, and the pads that are still alone
 */
export function pairAlongLines(
  pairs: readonly Cluster[],
  lone: readonly GroupMember[],
  classes: readonly (readonly GroupMember[])[],
): { pairs: Cluster[]; lone: GroupMember[] } {
  const pairOf = new Map<GroupMember, Cluster>();
  for (const pair of pairs) for (const pad of pair.members) pairOf.set(pad, pair);
  const alone = new Set(lone);
  const result = { pairs: [] as Cluster[], lone: [] as GroupMember[] };
  for (const list of classes) {
    const pads = list.filter((pad) => pairOf.has(pad) || alone.has(pad)).sort((p, q) => p.at[0] - q.at[0]);
    for (const chain of chainsOf(pads, pairOf)) {
      const inLine = sorted(chain);
      const claimed = chain.some((pad) => alone.has(pad));
      const regular = inLine.length > 2 && inLine.length % 2 === 0 && claimed && alike(inLine);
      if (regular) {
        for (let k = 0; k < inLine.length; k += 2) {
          const members = [inLine[k], inLine[k + 1]];
          result.pairs.push({ members, pitchMm: distanceOf(members) });
        }
        continue;
      }
      for (const pair of new Set(chain.flatMap((pad) => pairOf.get(pad) ?? []))) result.pairs.push(pair);
      for (const pad of chain) if (alone.has(pad)) result.lone.push(pad);
    }
  }
  return result;
}

/** Pads joined by pairs, and by short steps in the direction of a pair. */
function chainsOf(pads: readonly GroupMember[], pairOf: ReadonlyMap<GroupMember, Cluster>): GroupMember[][] {
  const sets = new DisjointSets(pads.length);
  const widest = pads.reduce((most, pad) => Math.max(most, pairOf.get(pad)?.pitchMm ?? 0), 0);
  pads.forEach((p, a) => {
    for (let b = a + 1; b < pads.length && pads[b].at[0] - p.at[0] <= widest * CHAIN_REACH; b += 1) {
      const q = pads[b];
      const pair = pairOf.get(p) ?? pairOf.get(q);
      if (pair && (pairOf.get(p) === pairOf.get(q) || steps(p, q, pair))) sets.join(a, b);
    }
  });
  return sets.groups().map((chain) => chain.map((i) => pads[i]));
}

function steps(p: GroupMember, q: GroupMember, pair: Cluster): boolean {
  const inReach = distanceOf([p, q]) <= (pair.pitchMm ?? 0) * CHAIN_REACH;
  return inReach && turnBetween(directionOf([p, q]), directionOf(pair.members)) < 3;
}

function sorted(chain: readonly GroupMember[]): GroupMember[] {
  const along = ({ at }: GroupMember): number => at[0] + at[1] * 1e-3;
  const spread = (axis: 0 | 1): number =>
    largest(chain.map(({ at }) => at[axis])) - smallest(chain.map(({ at }) => at[axis]));
  return spread(0) >= spread(1)
    ? [...chain].sort((p, q) => along(p) - along(q))
    : [...chain].sort((p, q) => p.at[1] - q.at[1]);
}

/** Whether pads taken two by two stand equally far apart. */
function alike(inLine: readonly GroupMember[]): boolean {
  const first = distanceOf([inLine[0], inLine[1]]);
  return inLine.every((pad, k) => k % 2 === 1 || Math.abs(distanceOf([pad, inLine[k + 1]]) - first) <= 0.02 * first);
}

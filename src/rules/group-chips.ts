import { boxAround, joinBoxes, largest, smallest } from '../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../geometry/box-index.js';
import { DisjointSets } from '../geometry/disjoint-sets.js';
import { type Cluster, type GroupMember, turnBetween } from './group-classes.js';
import type { Row } from './group-rows.js';

/** The pads of a chip stand no farther apart, centre to centre, than this many times their extent along that line. */
export const PAIR_REACH = 5;

/** Nor closer: between the pads of a chip lies a gap. */
const NEAREST_PAIR = 1.25;

/** An equal pad nearer than this many pair distances means that two pads are no chip of their own. */
const LONELY = 1.6;

/** Two pairs nearer to each other than this many pair distances may be the four pads of one part. */
const QUAD = 1.35;

/** Distance of two pads, centre to centre, mm. */
export function distanceOf([p, q]: readonly GroupMember[]): number {
  return Math.hypot(p.at[0] - q.at[0], p.at[1] - q.at[1]);
}

/** Direction from one pad to another, degrees in [0, 180). */
function directionOf([p, q]: readonly GroupMember[]): number {
  return ((Math.atan2(q.at[1] - p.at[1], q.at[0] - p.at[0]) * 180) / Math.PI + 180) % 180;
}

/** Extent of a pad along a direction of its own frame, mm. */
export function extentAlong(member: GroupMember, directionDeg: number): number {
  if (member.axisDeg === undefined) return member.long;
  return turnBetween(member.axisDeg, directionDeg) < 45 ? member.long : member.short;
}

/** Whether a pair looks along one of its pads' own axes and is not too far apart. */
function looksLikeChip(two: readonly GroupMember[]): boolean {
  const direction = directionOf(two);
  const { frameDeg } = two[0];
  const square = frameDeg === undefined || (turnBetween(frameDeg, direction) + 4) % 90 < 8;
  const extent = extentAlong(two[0], direction);
  const distance = distanceOf(two);
  return square && distance <= PAIR_REACH * extent && distance >= NEAREST_PAIR * extent;
}

/** Equal pads, told apart into the two pads of chips and what is no chip. */
export interface Chips {
  readonly chips: (readonly GroupMember[])[];
  /** Four pads of one part. */
  readonly quads: (readonly GroupMember[])[];
  /** Two pads on one side of a small part, and one on the other. */
  readonly triples: (readonly GroupMember[])[];
  /** Two pads that may be anything. */
  readonly rest: (readonly GroupMember[])[];
}

/**
 * Tells the two pads of a chip from two pads of something larger: a third equal pad close by that is not itself
 * half of such a pair speaks against a chip (two pads on one side of a small part and one or more on the other); so does a
 * second pair that makes up a square of four. What is in doubt is settled by the clear chips with the same pads elsewhere.
 *
 * @param lone - pads of no cluster
 */
export function findChips(
  pairs: readonly Cluster[],
  lone: readonly GroupMember[],
  rows: readonly Row[],
  classes: readonly (readonly GroupMember[])[],
  oneComponent: boolean,
): Chips {
  const pairOf = new Map<number, Cluster>();
  for (const pair of pairs) for (const { i } of pair.members) pairOf.set(i, pair);
  const inRow = new Set(rows.flatMap((row) => row.members.map(({ i }) => i)));
  const classOf = new Map<number, Class>();
  for (const pads of classes) {
    const own = { pads, index: placesOf(pads) };
    for (const { i } of pads) classOf.set(i, own);
  }
  const found: Chips = { chips: [], quads: [], triples: [], rest: [] };
  const inQuad = new Set<Cluster>();
  for (const pair of pairs) {
    if (inQuad.has(pair)) continue;
    const own = distanceOf(pair.members);
    const near = nearestOthers(pair, classOf, own * 2);
    const stranger = near.find(({ other, distance }) => {
      return distance < own * (inRow.has(other.i) ? 2 : LONELY) && !pairOf.has(other.i);
    });
    const abreast = near.filter(({ other, distance }) => {
      return distance <= own * QUAD && isParallel(pair, pairOf.get(other.i));
    });
    const partners = new Set(abreast.map(({ other }) => pairOf.get(other.i)));
    const [partner] = partners;
    if (stranger && !inRow.has(stranger.other.i) && isOpposite(stranger.other, pair.members)) {
      found.triples.push([...pair.members, stranger.other]);
    } else if (stranger || !looksLikeChip(pair.members) || oneComponent) {
      found.rest.push(pair.members);
    } else if (partners.size === 1 && partner && !inQuad.has(partner) && isSquareOfFour(pair, partner, classOf)) {
      inQuad.add(pair).add(partner);
      found.quads.push([...pair.members, ...partner.members]);
    } else {
      found.chips.push(pair.members);
    }
  }
  return oneComponent ? found : settleDoubts(found, lone, classes);
}

/** Whether a pad stands across from the middle of two others, as the third lead of a small transistor does. */
function isOpposite(pad: GroupMember, [p, q]: readonly GroupMember[]): boolean {
  const own = distanceOf([p, q]);
  const [ux, uy] = [(q.at[0] - p.at[0]) / own, (q.at[1] - p.at[1]) / own];
  const [dx, dy] = [pad.at[0] - (p.at[0] + q.at[0]) / 2, pad.at[1] - (p.at[1] + q.at[1]) / 2];
  return Math.abs(dx * ux + dy * uy) <= 0.25 * own && Math.abs(dy * ux - dx * uy) >= 0.5 * own;
}

/** Looks among doubtful pads for pairs at the distance that clear chips with the same pads have. */
function settleDoubts(found: Chips, lone: readonly GroupMember[], classes: readonly (readonly GroupMember[])[]): Chips {
  const doubtful = new Set([...found.quads, ...found.triples, ...found.rest, lone].flat());
  const spacings = new Map<GroupMember, number>();
  for (const chip of found.chips) for (const pad of chip) spacings.set(pad, distanceOf(chip));
  const settled: (readonly GroupMember[])[] = [];
  for (const list of classes) {
    const known = list.flatMap((pad) => spacings.get(pad) ?? []).sort((p, q) => p - q);
    const pads = list.filter((pad) => doubtful.has(pad));
    if (known.length === 0 || pads.length < 2) continue;
    for (const chip of matchAt(pads, known[Math.floor(known.length / 2)])) settled.push(chip);
  }
  const gone = new Set(settled.flat());
  const left = (lists: readonly (readonly GroupMember[])[]) =>
    lists.filter((pads) => !pads.some((pad) => gone.has(pad)));
  return {
    chips: [...found.chips, ...settled],
    quads: left(found.quads),
    triples: left(found.triples),
    rest: left(found.rest),
  };
}

/** Pairs pads that stand at a distance along their own axes; pads with a single choice choose first. */
function matchAt(pads: readonly GroupMember[], spacing: number): (readonly GroupMember[])[] {
  const links = new Map<GroupMember, Set<GroupMember>>(pads.map((pad) => [pad, new Set()]));
  placesOf(pads).eachPair((a, b) => {
    const [p, q] = [pads[a], pads[b]];
    if (Math.abs(distanceOf([p, q]) - spacing) > 0.02 * spacing || turnBetween(p.axisDeg, q.axisDeg) > 3) return;
    if (!looksLikeChip([p, q])) return;
    links.get(p)?.add(q);
    links.get(q)?.add(p);
  }, 1.02 * spacing);
  const pairs: (readonly GroupMember[])[] = [];
  const single: GroupMember[] = pads.filter((pad) => links.get(pad)?.size === 1).reverse();
  let looked = 0;
  const next = (): GroupMember | undefined => single.pop() ?? pads[looked++];
  for (let pad = next(); pad; pad = next()) {
    const [mate] = links.get(pad) ?? [];
    if (!mate) continue;
    pairs.push([pad, mate]);
    for (const one of [pad, mate]) {
      const others = links.get(one) ?? [];
      links.delete(one);
      for (const other of others) {
        const left = links.get(other);
        left?.delete(one);
        if (left?.size === 1) single.push(other);
      }
    }
  }
  return pairs;
}

/** Two pairs abreast with no third one in line: a part with four pads rather than two chips of a bank. */
function isSquareOfFour(pair: Cluster, partner: Cluster, classOf: ReadonlyMap<number, Class>): boolean {
  const others = nearestOthers(partner, classOf, distanceOf(partner.members) * QUAD);
  return others.every(({ other }) => pair.members.includes(other));
}

function isParallel(p: Cluster, q: Cluster | undefined): boolean {
  return q !== undefined && turnBetween(directionOf(p.members), directionOf(q.members)) < 3;
}

/** Equal pads, and an index over their places. */
interface Class {
  readonly pads: readonly GroupMember[];
  readonly index: BoxIndex;
}

const placesOf = (pads: readonly GroupMember[]): BoxIndex => boxIndex(pads, ({ at }) => boxAround(at, 0, 0));

/** Equal pads that look the same way within a distance of either pad of a pair. */
function nearestOthers(
  pair: Cluster,
  classOf: ReadonlyMap<number, Class>,
  reach: number,
): { other: GroupMember; distance: number }[] {
  const [p, q] = pair.members;
  const own = classOf.get(p.i);
  const found: { other: GroupMember; distance: number }[] = [];
  for (const k of own?.index.near(joinBoxes(boxAround(p.at, 0, 0), boxAround(q.at, 0, 0)), reach) ?? []) {
    const other = own?.pads[k];
    if (!other || other.i === p.i || other.i === q.i || turnBetween(other.axisDeg, p.axisDeg) > 3) continue;
    const distance = Math.min(distanceOf([p, other]), distanceOf([q, other]));
    if (distance <= reach) found.push({ other, distance });
  }
  return found.sort((a, b) => a.distance - b.distance);
}

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
    const pads = list.filter((pad) => pairOf.has(pad) || alone.has(pad));
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
  placesOf(pads).eachPair((a, b) => {
    const [p, q] = [pads[a], pads[b]];
    const pair = pairOf.get(p) ?? pairOf.get(q);
    if (pair && (pairOf.get(p) === pairOf.get(q) || steps(p, q, pair))) sets.join(a, b);
  }, widest * CHAIN_REACH);
  return sets.groups().map((chain) => chain.map((i) => pads[i]));
}

function steps(p: GroupMember, q: GroupMember, pair: Cluster): boolean {
  const inReach = distanceOf([p, q]) <= (pair.pitchMm ?? 0) * CHAIN_REACH;
  return inReach && turnBetween(directionOf([p, q]), directionOf(pair.members)) < 3;
}

function sorted(chain: readonly GroupMember[]): GroupMember[] {
  const spread = (axis: 0 | 1): number =>
    largest(chain.map(({ at }) => at[axis])) - smallest(chain.map(({ at }) => at[axis]));
  const axis = spread(0) >= spread(1) ? 0 : 1;
  return [...chain].sort((p, q) => p.at[axis] - q.at[axis]);
}

/** Whether pads taken two by two stand equally far apart. */
function alike(inLine: readonly GroupMember[]): boolean {
  const first = distanceOf([inLine[0], inLine[1]]);
  return inLine.every((pad, k) => k % 2 === 1 || Math.abs(distanceOf([pad, inLine[k + 1]]) - first) <= 0.02 * first);
}

import { boxAround, joinBoxes, largest, smallest } from '../geometry/bounds.js';
import type { BoxIndex } from '../geometry/box-index.js';
import { DisjointSets } from '../geometry/disjoint-sets.js';
import { distance } from '../geometry/walls.js';
import { type GroupMember, placesOf, seenAlong, turnBetween } from './group-classes.js';
import { extentAlong, type Row, rowOfTwo } from './group-rows.js';

/** The pads of a chip stand no farther apart, centre to centre, than this many times their extent along that line. */
export const PAIR_REACH = 5;
/** Nor closer: between the pads of a chip lies a gap. */
const NEAREST_PAIR = 1.25;
/** An equal pad nearer than this many pair distances means that two pads are no chip of their own. */
const LONELY = 1.6;
/** Two pairs nearer to each other than this many pair distances may be the four pads of one part. */
const QUAD = 1.35;

/** Whether a pair looks along one of its pads' own axes and is not too far apart. */
function looksLikeChip({ members: [pad], directionDeg, lengthMm }: Row): boolean {
  const square = pad.frameDeg === undefined || (turnBetween(pad.frameDeg, directionDeg) + 4) % 90 < 8;
  const extent = extentAlong(pad, directionDeg);
  return square && lengthMm <= PAIR_REACH * extent && lengthMm >= NEAREST_PAIR * extent;
}

/** Equal pads, told apart into the two pads of chips and what is no chip. */
export interface Chips {
  readonly chips: Row[];
  /** Four pads of one part. */
  readonly quads: (readonly GroupMember[])[];
  /** Two pads on one side of a small part, and one on the other. */
  readonly triples: (readonly GroupMember[])[];
  /** Two pads that may be anything. */
  readonly rest: Row[];
}

/**
 * Tells the two pads of a chip from two pads of something larger: a third equal pad close by that is not itself
 * half of such a pair speaks against a chip (two pads on one side of a small part and one or more on the other); so does a
 * second pair that makes up a square of four. What is in doubt is settled by the clear chips with the same pads elsewhere.
 *
 * @param lone - pads of no cluster
 */
export function findChips(
  pairs: readonly Row[],
  lone: readonly GroupMember[],
  rows: readonly Row[],
  classes: readonly (readonly GroupMember[])[],
  oneComponent: boolean,
): Chips {
  const pairOf = rowsByPad(pairs);
  const inRow = rowsByPad(rows);
  const classOf = new Map<GroupMember, Class>();
  for (const pads of classes) {
    const own = { pads, index: placesOf(pads) };
    for (const pad of pads) classOf.set(pad, own);
  }
  const found: Chips = { chips: [], quads: [], triples: [], rest: [] };
  const inQuad = new Set<Row>();
  for (const pair of pairs) {
    if (inQuad.has(pair)) continue;
    const own = pair.lengthMm;
    const near = nearestOthers(pair, classOf, own * 2);
    const stranger = near.find(({ other, mm }) => mm < own * (inRow.has(other) ? 2 : LONELY) && !pairOf.has(other));
    const abreast = near.filter(({ other, mm }) => mm <= own * QUAD && isParallel(pair, pairOf.get(other)));
    const partners = new Set(abreast.map(({ other }) => pairOf.get(other)));
    const [partner] = partners;
    if (stranger && !inRow.has(stranger.other) && isOpposite(stranger.other, pair)) {
      found.triples.push([...pair.members, stranger.other]);
    } else if (stranger || !looksLikeChip(pair) || oneComponent) {
      found.rest.push(pair);
    } else if (partners.size === 1 && partner && !inQuad.has(partner) && isSquareOfFour(pair, partner, classOf)) {
      inQuad.add(pair).add(partner);
      found.quads.push([...pair.members, ...partner.members]);
    } else {
      found.chips.push(pair);
    }
  }
  return oneComponent ? found : settleDoubts(found, lone, classes);
}

/** Whether a pad stands across from the middle of two others, as the third lead of a small transistor does. */
function isOpposite({ at }: GroupMember, { centre, directionDeg, lengthMm }: Row): boolean {
  const [along, across] = seenAlong(directionDeg, centre, at);
  return Math.abs(along) <= 0.25 * lengthMm && Math.abs(across) >= 0.5 * lengthMm;
}

/** Looks among doubtful pads for pairs at the distance that clear chips with the same pads have. */
function settleDoubts(found: Chips, lone: readonly GroupMember[], classes: readonly (readonly GroupMember[])[]): Chips {
  const padsOf = ({ members }: Row): readonly GroupMember[] => members;
  const doubtful = new Set([...found.quads, ...found.triples, ...found.rest.map(padsOf), lone].flat());
  const chipOf = rowsByPad(found.chips);
  const settled: Row[] = [];
  for (const list of classes) {
    const known = list.flatMap((pad) => chipOf.get(pad)?.lengthMm ?? []).sort((p, q) => p - q);
    const pads = list.filter((pad) => doubtful.has(pad));
    if (known.length === 0 || pads.length < 2) continue;
    for (const chip of matchAt(pads, known[Math.floor(known.length / 2)])) settled.push(chip);
  }
  const gone = rowsByPad(settled);
  const isLeft = (pads: readonly GroupMember[]): boolean => !pads.some((pad) => gone.has(pad));
  return {
    chips: [...found.chips, ...settled],
    quads: found.quads.filter(isLeft),
    triples: found.triples.filter(isLeft),
    rest: found.rest.filter(({ members }) => isLeft(members)),
  };
}

/** Pairs pads that stand at a distance along their own axes; pads with a single choice choose first. */
function matchAt(pads: readonly GroupMember[], spacing: number): Row[] {
  const links = new Map<GroupMember, Set<GroupMember>>(pads.map((pad) => [pad, new Set()]));
  placesOf(pads).eachPair((a, b) => {
    const [p, q] = [pads[a], pads[b]];
    if (Math.abs(distance(p.at, q.at) - spacing) > 0.02 * spacing || turnBetween(p.axisDeg, q.axisDeg) > 3) return;
    if (!looksLikeChip(rowOfTwo([p, q]))) return;
    links.get(p)?.add(q);
    links.get(q)?.add(p);
  }, 1.02 * spacing);
  const pairs: Row[] = [];
  const single: GroupMember[] = pads.filter((pad) => links.get(pad)?.size === 1).reverse();
  let looked = 0;
  const next = (): GroupMember | undefined => single.pop() ?? pads[looked++];
  for (let pad = next(); pad; pad = next()) {
    const [mate] = links.get(pad) ?? [];
    if (!mate) continue;
    pairs.push(rowOfTwo([pad, mate]));
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
function isSquareOfFour(pair: Row, partner: Row, classOf: ReadonlyMap<GroupMember, Class>): boolean {
  const others = nearestOthers(partner, classOf, partner.lengthMm * QUAD);
  return others.every(({ other }) => pair.members.includes(other));
}

const isParallel = (p: Row, q: Row | undefined): boolean =>
  q !== undefined && turnBetween(p.directionDeg, q.directionDeg) < 3;

/** The row of each pad that is in one. */
const rowsByPad = (rows: readonly Row[]): Map<GroupMember, Row> =>
  new Map(rows.flatMap((row) => row.members.map((pad) => [pad, row] as const)));

/** Equal pads, and an index over their places. */
interface Class {
  readonly pads: readonly GroupMember[];
  readonly index: BoxIndex;
}

/** Equal pads that look the same way within a distance of either pad of a pair, and how near. */
function nearestOthers({ members: [p, q] }: Row, classOf: ReadonlyMap<GroupMember, Class>, reach: number) {
  const own = classOf.get(p);
  const found: { readonly other: GroupMember; readonly mm: number }[] = [];
  for (const k of own?.index.near(joinBoxes(boxAround(p.at, 0, 0), boxAround(q.at, 0, 0)), reach) ?? []) {
    const other = own?.pads[k];
    if (!other || other === p || other === q || turnBetween(other.axisDeg, p.axisDeg) > 3) continue;
    const mm = Math.min(distance(p.at, other.at), distance(q.at, other.at));
    if (mm <= reach) found.push({ other, mm });
  }
  return found.sort((a, b) => a.mm - b.mm);
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
  pairs: readonly Row[],
  lone: readonly GroupMember[],
  classes: readonly (readonly GroupMember[])[],
): { pairs: Row[]; lone: GroupMember[] } {
  const pairOf = rowsByPad(pairs);
  const alone = new Set(lone);
  const result = { pairs: [] as Row[], lone: [] as GroupMember[] };
  for (const list of classes) {
    const pads = list.filter((pad) => pairOf.has(pad) || alone.has(pad));
    for (const chain of chainsOf(pads, pairOf)) {
      const inLine = sorted(chain);
      const isClaimed = chain.length > 2 && chain.some((pad) => alone.has(pad));
      const matched = isClaimed ? matchAt(inLine, distance(inLine[0].at, inLine[1].at)) : [];
      if (isClaimed && 2 * matched.length === chain.length) {
        result.pairs.push(...matched);
        continue;
      }
      for (const pair of new Set(chain.flatMap((pad) => pairOf.get(pad) ?? []))) result.pairs.push(pair);
      for (const pad of chain) if (alone.has(pad)) result.lone.push(pad);
    }
  }
  return result;
}

/** Pads joined by pairs, and by short steps in the direction of a pair. */
function chainsOf(pads: readonly GroupMember[], pairOf: ReadonlyMap<GroupMember, Row>): GroupMember[][] {
  const sets = new DisjointSets(pads.length);
  const widest = pads.reduce((most, pad) => Math.max(most, pairOf.get(pad)?.lengthMm ?? 0), 0);
  placesOf(pads).eachPair((a, b) => {
    const [p, q] = [pads[a], pads[b]];
    const pair = pairOf.get(p) ?? pairOf.get(q);
    if (pair && (pairOf.get(p) === pairOf.get(q) || steps(rowOfTwo([p, q]), pair))) sets.join(a, b);
  }, widest * CHAIN_REACH);
  return sets.groups().map((chain) => chain.map((i) => pads[i]));
}

const steps = (step: Row, pair: Row): boolean => step.lengthMm <= pair.lengthMm * CHAIN_REACH && isParallel(step, pair);

function sorted(chain: readonly GroupMember[]): GroupMember[] {
  const spread = (axis: 0 | 1): number =>
    largest(chain.map(({ at }) => at[axis])) - smallest(chain.map(({ at }) => at[axis]));
  const axis = spread(0) >= spread(1) ? 0 : 1;
  return [...chain].sort((p, q) => p.at[axis] - q.at[axis]);
}

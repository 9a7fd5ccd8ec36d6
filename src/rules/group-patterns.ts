import { type Cluster, clusters, type Member, memberOf, sizeClasses, turnBetween } from './group-classes.js';
import type { Pattern } from './group-pattern.js';
import { joinRows, type Row, rowOf } from './group-rows.js';
import type { Measure } from './measure.js';

/** The pads of a chip stand no farther apart, centre to centre, than this many times their extent along that line. */
const PAIR_REACH = 5;

/** Nor closer: between the pads of a chip lies a gap. */
const NEAREST_PAIR = 1.25;

/** An equal pad nearer than this many pair distances means that two pads are no chip of their own. */
const LONELY = 1.6;

/**
 * Finds patterns of equal pads among some openings.
 *
 * @param members - positions of the openings to look at
 * @param measures - one per opening of the whole list
 * @param oneComponent - the artwork says that they are one part: two equal pads are a pair without further doubt
 */
export function findPatterns(
  members: readonly number[],
  measures: readonly Measure[],
  oneComponent = false,
): Pattern[] {
  const all = members.map((i) => memberOf(i, measures[i]));
  const classes = sizeClasses(all, measures);
  if (oneComponent && all.length === 2 && classes.length === 1) {
    return [pairPattern(all)];
  }
  const found = classes.flatMap(clusters);
  const rows: Row[] = [];
  const pairs: Cluster[] = [];
  const grids: Cluster[] = [];
  const lone: number[] = [];
  for (const cluster of found) {
    const row = rowOf(cluster);
    if (cluster.members.length === 1) lone.push(cluster.members[0].i);
    else if (cluster.members.length === 2 && row) pairs.push(cluster);
    else if (row) rows.push(row);
    else grids.push(cluster);
  }
  const { chips, quads, triples, rest } = sortPairs(pairs, rows, classes, oneComponent);
  for (const { members: two } of rest) rows.push(rowOf({ members: two, pitchMm: distanceOf(two) }) as Row);
  const inTriple = new Set(triples.flat());
  const loneOrGrid = [
    ...lone.filter((i) => !inTriple.has(i)),
    ...grids.flatMap((grid) => grid.members.map(({ i }) => i)),
    ...quads.flat(),
  ];
  const [bank, plain] = splitBanks(rows);
  const joined = joinRows(plain, loneOrGrid, measures);
  const taken = new Set(joined.flatMap(({ centre }) => centre ?? []));
  return [
    ...joined,
    ...bank,
    ...chips.map(({ members: two }) => pairPattern(two)),
    ...triples.map((three): Pattern => ({ kind: 'rows', members: three })),
    ...quads
      .filter((quad) => !quad.some((i) => taken.has(i)))
      .map((quad): Pattern => ({ kind: 'grid', members: quad })),
    ...grids
      .filter((grid) => !grid.members.some(({ i }) => taken.has(i)))
      .map((grid): Pattern => ({ kind: 'grid', members: grid.members.map(({ i }) => i), pitchMm: grid.pitchMm })),
  ];
}

function distanceOf([p, q]: readonly Member[]): number {
  return Math.hypot(p.at[0] - q.at[0], p.at[1] - q.at[1]);
}

function pairPattern(two: readonly Member[]): Pattern {
  return { kind: 'pair', members: two.map(({ i }) => i), pitchMm: distanceOf(two) };
}

function directionOf([p, q]: readonly Member[]): number {
  return ((Math.atan2(q.at[1] - p.at[1], q.at[0] - p.at[0]) * 180) / Math.PI + 180) % 180;
}

/** Extent of a pad along a direction of its own frame. */
function extentAlong(member: Member, directionDeg: number): number {
  if (member.axisDeg === undefined) return member.long;
  return turnBetween(member.axisDeg, directionDeg) < 45 ? member.long : member.short;
}

/** Whether a pair looks along one of its pads' own axes and is not too far apart. */
function looksLikeChip(two: readonly Member[]): boolean {
  const direction = directionOf(two);
  const { frameDeg } = two[0];
  const square = frameDeg === undefined || (turnBetween(frameDeg, direction) + 4) % 90 < 8;
  const extent = extentAlong(two[0], direction);
  const distance = distanceOf(two);
  return square && distance <= PAIR_REACH * extent && distance >= NEAREST_PAIR * extent;
}

/**
 * Tells the two pads of a chip from two pads of something larger: a third equal pad close by that is not itself
 * half of such a pair speaks against a chip (two pads on one side of a small part and one or more on the other); so does a
 * second pair that makes up a square of four.
 */
function sortPairs(
  pairs: readonly Cluster[],
  rows: readonly Row[],
  classes: readonly (readonly Member[])[],
  oneComponent: boolean,
): { chips: Cluster[]; quads: number[][]; triples: number[][]; rest: Cluster[] } {
  const pairOf = new Map<number, Cluster>();
  for (const pair of pairs) for (const { i } of pair.members) pairOf.set(i, pair);
  const inRow = new Set(rows.flatMap((row) => row.members.map(({ i }) => i)));
  const classOf = new Map<number, readonly Member[]>();
  for (const list of classes) for (const { i } of list) classOf.set(i, list);
  const chips: Cluster[] = [];
  const rest: Cluster[] = [];
  const quads: number[][] = [];
  const triples: number[][] = [];
  const inQuad = new Set<Cluster>();
  for (const pair of pairs) {
    if (inQuad.has(pair)) continue;
    const own = distanceOf(pair.members);
    const near = nearestOthers(pair, classOf.get(pair.members[0].i) ?? [], own * 2);
    const stranger = near.find(({ i, distance }) => distance < own * (inRow.has(i) ? 2 : LONELY) && !pairOf.has(i));
    const abreast = near.filter(({ i, distance }) => distance <= own * 1.25 && isParallel(pair, pairOf.get(i)));
    const partners = new Set(abreast.map(({ i }) => pairOf.get(i)));
    const [partner] = partners;
    if (stranger && !inRow.has(stranger.i)) {
      triples.push([...pair.members.map(({ i }) => i), stranger.i]);
    } else if (stranger || !looksLikeChip(pair.members) || oneComponent) {
      rest.push(pair);
    } else if (partners.size === 1 && partner && !inQuad.has(partner) && isSquareOfFour(pair, partner, classOf)) {
      inQuad.add(pair).add(partner);
      quads.push([...pair.members, ...partner.members].map(({ i }) => i));
    } else {
      chips.push(pair);
    }
  }
  return { chips, quads, triples, rest };
}

/** Two pairs abreast with no third one in line: a part with four pads rather than two chips of a bank. */
function isSquareOfFour(pair: Cluster, partner: Cluster, classOf: ReadonlyMap<number, readonly Member[]>): boolean {
  const others = nearestOthers(partner, classOf.get(partner.members[0].i) ?? [], distanceOf(partner.members) * 1.25);
  return others.every(({ i }) => pair.members.some((member) => member.i === i));
}

function isParallel(p: Cluster, q: Cluster | undefined): boolean {
  return q !== undefined && turnBetween(directionOf(p.members), directionOf(q.members)) < 3;
}

function nearestOthers(pair: Cluster, list: readonly Member[], reach: number): { i: number; distance: number }[] {
  const found: { i: number; distance: number }[] = [];
  for (const other of list) {
    if (pair.members.some(({ i }) => i === other.i)) continue;
    if (turnBetween(other.axisDeg, pair.members[0].axisDeg) > 3) continue;
    const distance = Math.min(...pair.members.map(({ at }) => Math.hypot(at[0] - other.at[0], at[1] - other.at[1])));
    if (distance <= reach) found.push({ i: other.i, distance });
  }
  return found.sort((p, q) => p.distance - q.distance);
}

/**
 * A bank of chips side by side looks like two rows that face each other. Leads point across their row and are longer that
 * way; chip pads are wider along it, and the pads of one chip stand close.
 */
function splitBanks(rows: readonly Row[]): [Pattern[], Row[]] {
  const banks: Pattern[] = [];
  const used = new Set<Row>();
  for (const row of rows) {
    if (used.has(row)) continue;
    const [first] = row.members;
    const along = extentAlong(first, row.directionDeg);
    const across = extentAlong(first, (row.directionDeg + 90) % 180);
    if (along <= across * 1.03) continue;
    const partner = rows.find((other) => other !== row && !used.has(other) && bankPartner(row, other, across));
    if (!partner) continue;
    used.add(row).add(partner);
    for (const member of row.members) {
      const mate = partner.members.reduce((best, m) =>
        distanceOf([member, m]) < distanceOf([member, best]) ? m : best,
      );
      banks.push(pairPattern([member, mate]));
    }
  }
  return [banks, rows.filter((row) => !used.has(row))];
}

function bankPartner(row: Row, other: Row, across: number): boolean {
  if (other.members.length !== row.members.length || turnBetween(row.directionDeg, other.directionDeg) > 3)
    return false;
  if (Math.abs(row.members[0].short - other.members[0].short) > 0.02 * row.members[0].short) return false;
  const distance = Math.hypot(row.centre[0] - other.centre[0], row.centre[1] - other.centre[1]);
  const angle = (row.directionDeg * Math.PI) / 180;
  const along = Math.abs(
    (other.centre[0] - row.centre[0]) * Math.cos(angle) + (other.centre[1] - row.centre[1]) * Math.sin(angle),
  );
  return along <= 0.1 * row.pitchMm && distance <= PAIR_REACH * across;
}

import type { Opening } from '../geometry/types.js';
import { listIn } from '../kept.js';
import { distanceOf, extentAlong, findChips, PAIR_REACH, pairAlongLines } from './group-chips.js';
import {
  type Cluster,
  clusters,
  describeGroup,
  type GroupMember,
  type GroupPattern,
  memberOf,
  type OpeningGroup,
  sizeClasses,
  turnBetween,
} from './group-classes.js';
import { asRow, joinRows, type Row } from './group-rows.js';
import type { Measure } from './measure.js';
import type { Web } from './webs.js';

export type { GroupKind, OpeningGroup } from './group-classes.js';

/**
 * Finds openings that belong together: by component where the artwork names it (Gerber .C and .P object attributes),
 * elsewhere by equal shapes in rows, pairs, grids, and rows around a large pad.
 *
 * @param measures - one per opening
 * @param nearest - each opening's nearest web; not given: groups come without theirs
 * @returns groups of two or more; no opening is in two of them
 */
export function groupOpenings(
  openings: readonly Opening[],
  measures: readonly Measure[],
  nearest?: readonly (Web | undefined)[],
): OpeningGroup[] {
  const byComponent = new Map<string, number[]>();
  const unnamed: number[] = [];
  openings.forEach(({ tag }, i) => {
    if (tag?.component === undefined) {
      unnamed.push(i);
      return;
    }
    listIn(byComponent, tag.component).push(i);
  });
  const groups: OpeningGroup[] = [];
  for (const [component, members] of byComponent) {
    if (members.length > 1)
      groups.push(describeGroup(componentPattern(members, measures), openings, measures, { component, nearest }));
  }
  const stepOf = (i: number): number => openings[i].tag?.stepMm ?? 0;
  for (const pattern of findPatterns(
    unnamed.map((i) => memberOf(i, measures[i], stepOf(i))),
    measures,
  ))
    groups.push(describeGroup(pattern, openings, measures, { nearest }));
  return groups;
}

/** A component is one group, whatever patterns its pads form. */
function componentPattern(members: readonly number[], measures: readonly Measure[]): GroupPattern {
  const patterns = findPatterns(
    members.map((i) => memberOf(i, measures[i])),
    measures,
    true,
  );
  if (patterns.length === 1 && patterns[0].members.length === members.length) return patterns[0];
  const largest = patterns.reduce<GroupPattern | undefined>(
    (best, pattern) => (best && best.members.length >= pattern.members.length ? best : pattern),
    undefined,
  );
  return { kind: 'component', members, pitchMm: largest?.pitchMm };
}

/**
 * Finds patterns of equal pads among some openings.
 *
 * @param all - the openings to look at
 * @param measures - one per opening of the whole list
 * @param oneComponent - the artwork says that they are one part: two equal pads are a pair without further doubt
 */
function findPatterns(all: readonly GroupMember[], measures: readonly Measure[], oneComponent = false): GroupPattern[] {
  const classes = sizeClasses(all, measures);
  if (oneComponent && all.length === 2 && classes.length === 1) {
    return [pairPattern(all)];
  }
  const rows: Row[] = [];
  const pairs: Cluster[] = [];
  const grids: Cluster[] = [];
  const lone: GroupMember[] = [];
  for (const cluster of classes.flatMap(clusters)) {
    const row = asRow(cluster);
    if (cluster.members.length === 1) lone.push(cluster.members[0]);
    else if (cluster.members.length === 2 && row) pairs.push(cluster);
    else if (row) rows.push(row);
    else grids.push(cluster);
  }
  const lines = pairAlongLines(pairs, lone, classes);
  const { chips, quads, triples, rest } = findChips(lines.pairs, lines.lone, rows, classes, oneComponent);
  for (const two of rest) rows.push(asRow({ members: two, pitchMm: distanceOf(two) }) as Row);
  const [bank, plain] = splitBanks(rows);
  const joined = joinRows(plain, all, measures);
  const taken = new Set(joined.flatMap(({ members: own }) => own));
  const free = (list: readonly GroupMember[]): boolean => !list.some(({ i }) => taken.has(i));
  const numbersOf = (list: readonly GroupMember[]): number[] => list.map(({ i }) => i);
  return [
    ...joined,
    ...bank,
    ...chips.filter(free).map(pairPattern),
    ...triples.filter(free).map((three): GroupPattern => ({ kind: 'rows', members: numbersOf(three) })),
    ...quads.filter(free).map((quad): GroupPattern => ({ kind: 'grid', members: numbersOf(quad) })),
    ...grids
      .filter((grid) => free(grid.members))
      .map((grid): GroupPattern => ({ kind: 'grid', members: numbersOf(grid.members), pitchMm: grid.pitchMm })),
  ];
}

function pairPattern(two: readonly GroupMember[]): GroupPattern {
  return { kind: 'pair', members: two.map(({ i }) => i), pitchMm: distanceOf(two) };
}

/**
 * A bank of chips side by side looks like two rows that face each other. Leads point across their row and are longer that
 * way; chip pads are wider along it, and the pads of one chip stand close.
 */
function splitBanks(rows: readonly Row[]): [GroupPattern[], Row[]] {
  const banks: GroupPattern[] = [];
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
  const { short, stepMm } = row.members[0];
  if (Math.abs(short - other.members[0].short) > 0.02 * short + stepMm) return false;
  const distance = Math.hypot(row.centre[0] - other.centre[0], row.centre[1] - other.centre[1]);
  const angle = (row.directionDeg * Math.PI) / 180;
  const along = Math.abs(
    (other.centre[0] - row.centre[0]) * Math.cos(angle) + (other.centre[1] - row.centre[1]) * Math.sin(angle),
  );
  return along <= 0.1 * row.pitchMm && distance <= PAIR_REACH * across;
}

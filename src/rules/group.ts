import type { Opening } from '../geometry/types.js';
import { distance } from '../geometry/walls.js';
import { grouped } from '../kept.js';
import { findChips, PAIR_REACH, pairAlongLines } from './group-chips.js';
import {
  type Cluster,
  clusters,
  describeGroup,
  type GroupKind,
  type GroupMember,
  type GroupPattern,
  memberOf,
  type OpeningGroup,
  seenAlong,
  sizeClasses,
  turnBetween,
} from './group-classes.js';
import { asRow, extentAlong, joinRows, type Row, rowOfTwo } from './group-rows.js';
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
  const byComponent = grouped([...openings.keys()], (i) => openings[i].tag?.component);
  const unnamed = (byComponent.get(undefined) ?? []).map((i) => memberOf(i, measures[i], openings[i].tag?.stepMm));
  const components = [...byComponent].filter(([component, { length }]) => component !== undefined && length > 1);
  return [
    ...components.map(([component, members]) =>
      describeGroup(componentPattern(members, measures), openings, measures, { component, nearest }),
    ),
    ...findPatterns(unnamed, measures).map((pattern) => describeGroup(pattern, openings, measures, { nearest })),
  ];
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
    return [pairPattern(rowOfTwo([all[0], all[1]]))];
  }
  const rows: Row[] = [];
  const pairs: Row[] = [];
  const grids: Cluster[] = [];
  const lone: GroupMember[] = [];
  for (const cluster of classes.flatMap(clusters)) {
    const row = asRow(cluster);
    if (cluster.members.length === 1) lone.push(cluster.members[0]);
    else if (row) (cluster.members.length === 2 ? pairs : rows).push(row);
    else grids.push(cluster);
  }
  const lines = pairAlongLines(pairs, lone, classes);
  const { chips, quads, triples, rest } = findChips(lines.pairs, lines.lone, rows, classes, oneComponent);
  const [bank, plain] = splitBanks([...rows, ...rest]);
  const joined = joinRows(plain, all, measures);
  const taken = new Set(joined.flatMap(({ members }) => members));
  const others = [
    ...chips.map(pairPattern),
    ...triples.map((three) => patternOf('rows', three)),
    ...quads.map((quad) => patternOf('grid', quad)),
    ...grids.map(({ members, pitchMm }) => patternOf('grid', members, pitchMm)),
  ];
  return [...joined, ...bank, ...others.filter(({ members }) => !members.some((i) => taken.has(i)))];
}

const patternOf = (kind: GroupKind, pads: readonly GroupMember[], pitchMm?: number): GroupPattern => ({
  kind,
  members: pads.map(({ i }) => i),
  pitchMm,
});

const pairPattern = ({ members, lengthMm }: Row): GroupPattern => patternOf('pair', members, lengthMm);

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
    const across = extentAlong(first, row.directionDeg + 90);
    if (along <= across * 1.03) continue;
    const partner = rows.find((other) => other !== row && !used.has(other) && bankPartner(row, other, across));
    if (!partner) continue;
    used.add(row).add(partner);
    for (const pad of row.members) {
      const away = (other: GroupMember): number => distance(pad.at, other.at);
      const mate = partner.members.reduce((best, other) => (away(other) < away(best) ? other : best));
      banks.push(pairPattern(rowOfTwo([pad, mate])));
    }
  }
  return [banks, rows.filter((row) => !used.has(row))];
}

function bankPartner(row: Row, other: Row, across: number): boolean {
  if (other.members.length !== row.members.length || turnBetween(row.directionDeg, other.directionDeg) > 3)
    return false;
  const { short, stepMm } = row.members[0];
  if (Math.abs(short - other.members[0].short) > 0.02 * short + stepMm) return false;
  const [along] = seenAlong(row.directionDeg, row.centre, other.centre);
  return Math.abs(along) <= 0.1 * row.pitchMm && distance(row.centre, other.centre) <= PAIR_REACH * across;
}

import { boxAround } from '../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../geometry/box-index.js';
import type { Point } from '../geometry/types.js';
import { distance } from '../geometry/walls.js';
import { budgetInForce } from '../geometry/work-budget.js';
import {
  type Cluster,
  type GroupMember,
  type GroupPattern,
  PITCH_SHARE,
  placesOf,
  seenAlong,
  turnBetween,
} from './group-classes.js';
import type { Measure } from './measure.js';

/** Equal pads on a line at one pitch. */
export interface Row {
  readonly members: readonly GroupMember[];
  readonly pitchMm: number;
  readonly centre: Point;
  readonly directionDeg: number;
  readonly lengthMm: number;
}

/** A cluster as a row, if its centres lie on a line. */
export function asRow({ members, pitchMm }: Cluster): Row | undefined {
  if (members.length < 2 || pitchMm === undefined) return undefined;
  const farthest = (from: Point): Point =>
    members.reduce((best, { at }) => (distance(at, from) > distance(best, from) ? at : best), members[0].at);
  const a = farthest(members[0].at);
  const b = farthest(a);
  const directionDeg = ((Math.atan2(b[1] - a[1], b[0] - a[0]) * 180) / Math.PI + 180) % 180;
  if (members.some(({ at }) => Math.abs(seenAlong(directionDeg, a, at)[1]) > 0.05 * pitchMm)) return undefined;
  const centre: Point = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  return { members, pitchMm, centre, directionDeg, lengthMm: distance(a, b) };
}

/** Two pads as a row. */
export const rowOfTwo = (two: readonly [GroupMember, GroupMember]): Row =>
  asRow({ members: two, pitchMm: distance(two[0].at, two[1].at) }) as Row;

/** Extent of a pad along a direction of its own frame, mm. */
export function extentAlong(member: GroupMember, directionDeg: number): number {
  if (member.axisDeg === undefined) return member.long;
  return turnBetween(member.axisDeg, directionDeg) < 45 ? member.long : member.short;
}

interface Facing {
  readonly p: number;
  readonly q: number;
  readonly distance: number;
  readonly centre: Point;
  readonly inner: readonly number[];
  rank: number;
}

/** What a look at two rows costs, in the units of `WorkBudget`. */
const FACE_COST = 2;

/** Two rows stand no farther apart than this many of their own lengths. */
const ROW_REACH = 3;

/**
 * Joins rows of equal pads that face each other into `rows`, and into a `ring` where they stand around a large pad or
 * on four sides. Rows that face nothing stay `row`.
 *
 * @param all - every pad there is, large ones and panes among them
 */
export function joinRows(
  rows: readonly Row[],
  all: readonly GroupMember[],
  measures: readonly Measure[],
): GroupPattern[] {
  const facings: Facing[] = [];
  const budget = budgetInForce();
  const places = placesOf(all);
  rows.forEach((row, p) => {
    budget?.spend(FACE_COST * (rows.length - p));
    for (let q = p + 1; q < rows.length; q += 1) {
      const facing = face(row, rows[q]);
      if (!facing) continue;
      const inner = innerPads([row, rows[q]], facing, { all, places }, measures);
      facings.push({ p, q, ...facing, inner, rank: inner.length > 0 ? 0 : 2 });
    }
  });
  markSquares(facings, rows);
  facings.sort((a, b) => a.rank - b.rank || a.distance - b.distance);
  const used = new Set<number>();
  const patterns: GroupPattern[] = [];
  const kept: Facing[] = [];
  for (const facing of facings) {
    if (used.has(facing.p) || used.has(facing.q)) continue;
    used.add(facing.p).add(facing.q);
    kept.push(facing);
  }
  const done = new Set<Facing>();
  const inside = new Set<number>(kept.flatMap(({ inner }) => inner));
  const isInside = (row: number): boolean => rows[row].members.some(({ i }) => inside.has(i));
  for (const facing of kept) {
    if (done.has(facing) || isInside(facing.p) || isInside(facing.q)) continue;
    const square = kept.find((other) => other !== facing && !done.has(other) && crosses(facing, other, rows));
    done.add(facing);
    if (square) done.add(square);
    const sides = [facing.p, facing.q, ...(square ? [square.p, square.q] : [])];
    const pads = sides.flatMap((r) => rows[r].members.map(({ i }) => i));
    const centre = [...new Set([...facing.inner, ...(square?.inner ?? [])])];
    const kind = square || centre.length > 0 ? 'ring' : 'rows';
    patterns.push({ kind, members: [...pads, ...centre], centre, pitchMm: rows[facing.p].pitchMm });
  }
  rows.forEach((row, i) => {
    if (used.has(i) || isInside(i)) return;
    patterns.push({ kind: 'row', members: row.members.map((m) => m.i), pitchMm: row.pitchMm });
  });
  return patterns;
}

function face(p: Row, q: Row): { distance: number; centre: Point } | undefined {
  if (turnBetween(p.directionDeg, q.directionDeg) > 3) return undefined;
  const [fine, coarse] = [Math.min(p.pitchMm, q.pitchMm), Math.max(p.pitchMm, q.pitchMm)];
  const multiple = Math.round(coarse / fine);
  const [first, second] = [p.members[0], q.members[0]];
  const { stepMm } = first;
  if (Math.abs(coarse - multiple * fine) > PITCH_SHARE * coarse + stepMm) return undefined;
  const alike = (a: number, b: number): boolean => Math.abs(a - b) < 0.02 * a + stepMm;
  if (!alike(first.short, second.short) || !alike(first.long, second.long)) return undefined;
  const [along, distance] = seenAlong(p.directionDeg, p.centre, q.centre).map(Math.abs);
  if (along > coarse * 0.6 || distance < 1.5 * first.short) return undefined;
  if (distance > ROW_REACH * (Math.max(p.lengthMm, q.lengthMm) + coarse)) return undefined;
  return { distance, centre: [(p.centre[0] + q.centre[0]) / 2, (p.centre[1] + q.centre[1]) / 2] };
}

/** A pane is at least this much larger than a lead. */
const PANE_SHARE = 1.5;

/** Large pads or panes that lie between two rows, about their centre. Leads of another part there rule that out. */
function innerPads(
  [row, other]: readonly [Row, Row],
  facing: { distance: number; centre: Point },
  { all, places }: { readonly all: readonly GroupMember[]; readonly places: BoxIndex },
  measures: readonly Measure[],
): number[] {
  const lead = row.members[0];
  const halfAlong = Math.max(row.lengthMm, other.lengthMm, row.pitchMm) / 2 + row.pitchMm;
  const halfAcross = facing.distance / 2 - extentAlong(lead, row.directionDeg + 90) / 2;
  const lies = ({ at, short, i }: GroupMember): boolean => {
    const [along, across] = seenAlong(row.directionDeg, facing.centre, at).map((mm) => Math.abs(mm) + short / 2);
    return along <= halfAlong && across <= halfAcross && measures[i].areaMm2 > 0;
  };
  if (halfAcross < 0) return [];
  const [[cos, sin], [x, y]] = [seenAlong(-row.directionDeg, [0, 0], [1, 0]).map(Math.abs), facing.centre];
  const [halfX, halfY] = [cos * halfAlong + sin * halfAcross, sin * halfAlong + cos * halfAcross];
  const between = boxAround([x, y], 2 * halfX, 2 * halfY);
  const leadArea = lead.short * lead.long;
  const found: number[] = [];
  // Mostly a lead of another row lies there, and then no pane matters: the first one found ends the search.
  const ruledOut = places.some(between, (k) => {
    if (!lies(all[k])) return false;
    found.push(k);
    return measures[all[k].i].areaMm2 < PANE_SHARE * leadArea;
  });
  if (ruledOut || found.length === 0) return [];
  const inside = found.sort((p, q) => p - q).map((k) => all[k]);
  const areas = inside.map(({ i }) => measures[i].areaMm2);
  const area = areas.reduce((sum, a) => sum + a, 0);
  if (area < 3 * leadArea) return [];
  const mean = (axis: 0 | 1): number =>
    inside.reduce((sum, { i }, k) => sum + measures[i].centroid[axis] * areas[k], 0) / area;
  const off = Math.hypot(mean(0) - facing.centre[0], mean(1) - facing.centre[1]);
  return off <= 0.15 * (halfAlong + halfAcross) ? inside.map(({ i }) => i) : [];
}

/** Centres of rows that make a square lie no farther apart than this many pitches. */
const SQUARE_REACH = 0.6;

function crosses(a: Facing, b: Facing, rows: readonly Row[]): boolean {
  const turn = turnBetween(rows[a.p].directionDeg, rows[b.p].directionDeg);
  const alike = Math.abs(rows[a.p].pitchMm - rows[b.p].pitchMm) <= PITCH_SHARE * rows[a.p].pitchMm;
  return Math.abs(turn - 90) < 3 && alike && distance(a.centre, b.centre) <= SQUARE_REACH * rows[a.p].pitchMm;
}

/** Facing rows with another pair of rows square to them about the same centre are the surest. */
function markSquares(facings: Facing[], rows: readonly Row[]): void {
  const index = boxIndex(facings, ({ centre }) => boxAround(centre, 0, 0));
  facings.forEach((facing, i) => {
    const reachMm = SQUARE_REACH * rows[facing.p].pitchMm;
    if (index.some(boxAround(facing.centre, 0, 0), (k) => k !== i && crosses(facing, facings[k], rows), reachMm))
      facing.rank -= 1;
  });
}

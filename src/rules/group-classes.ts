import { boxAround, largest } from '../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../geometry/box-index.js';
import { DisjointSets } from '../geometry/disjoint-sets.js';
import type { Opening, Point } from '../geometry/types.js';
import { distance } from '../geometry/walls.js';
import { grouped } from '../kept.js';
import type { Measure } from './measure.js';
import { narrowestWithin, type Web } from './webs.js';

/** Sizes that differ by no more than this are one class: traced outlines wobble by some micrometres. */
const SAME_MM = 0.003;
const SAME_SHARE = 0.01;

/** A pad with sides in a ratio above this has no long direction. */
const NEARLY_SQUARE = 0.97;

/** Centres farther apart than this many longer sides don't form a pattern. */
const REACH_LENGTHS = 6;

/** Distances that differ by no more than this share are one pitch. */
export const PITCH_SHARE = 0.02;

/** An equal-shaped pad among its like. */
export interface GroupMember {
  /** Position in the list of openings. */
  readonly i: number;
  readonly at: Point;
  readonly short: number;
  readonly long: number;
  /** Direction of the longer side, degrees in [0, 180); undefined for round and square pads. */
  readonly axisDeg: number | undefined;
  /** Direction of the pad's frame, degrees; undefined for round pads. */
  readonly frameDeg: number | undefined;
  /** By how much more than drawn ones its size and place may be off, mm. */
  readonly stepMm: number;
}

/** Pads by their places. */
export const placesOf = (pads: readonly { readonly at: Point }[]): BoxIndex =>
  boxIndex(pads, ({ at }) => boxAround(at, 0, 0));

/** Smallest angle between two undirected directions, degrees; 0 when one of them is unknown. */
export function turnBetween(p: number | undefined, q: number | undefined): number {
  if (p === undefined || q === undefined) return 0;
  const d = Math.abs(p - q) % 180;
  return Math.min(d, 180 - d);
}

/** How far a place lies from another along a direction, and across it to its left, mm. */
export function seenAlong(directionDeg: number, from: Point, to: Point): [along: number, across: number] {
  const [cos, sin] = [Math.cos((directionDeg * Math.PI) / 180), Math.sin((directionDeg * Math.PI) / 180)];
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  return [dx * cos + dy * sin, dy * cos - dx * sin];
}

/** A pad as the search for patterns sees it. */
export function memberOf(i: number, measure: Measure, stepMm = 0): GroupMember {
  const { widthMm, heightMm, angleDeg, shape } = measure;
  const [short, long] = [Math.min(widthMm, heightMm), Math.max(widthMm, heightMm)];
  const axis = widthMm >= heightMm ? angleDeg : angleDeg + 90;
  return {
    i,
    at: measure.centre,
    short,
    long,
    axisDeg: short > NEARLY_SQUARE * long ? undefined : (axis + 180) % 180,
    frameDeg: shape === 'round' ? undefined : angleDeg,
    stepMm,
  };
}

/** Sorts pads into classes of equal size and, roughly, equal area. */
export function sizeClasses(members: readonly GroupMember[], measures: readonly Measure[]): GroupMember[][] {
  const classes: GroupMember[][] = [];
  const same = (a: number, b: number, stepMm: number): boolean => Math.abs(a - b) <= SAME_MM + stepMm + SAME_SHARE * b;
  for (const member of members) {
    const area = measures[member.i].areaMm2;
    const { short, long, stepMm } = member;
    const home = classes.find(([first]) => {
      const near = same(short, first.short, stepMm) && same(long, first.long, stepMm);
      return near && Math.abs(area - measures[first.i].areaMm2) <= 0.03 * area + stepMm * (short + long);
    });
    if (home) home.push(member);
    else classes.push([member]);
  }
  return classes;
}

/** Pads of one class that stand at one pitch, and which of them are neighbours. */
export interface Cluster {
  readonly members: readonly GroupMember[];
  /** Smallest distance between centres; undefined for a lone pad. */
  readonly pitchMm: number | undefined;
}

/** Joins pads of a class that are nearest neighbours at one pitch and look the same way. */
export function clusters(members: readonly GroupMember[]): Cluster[] {
  const sorted = [...members].sort((p, q) => p.at[0] - q.at[0]);
  const reach = largest(members.map(({ long }) => long)) * REACH_LENGTHS;
  const index = placesOf(sorted);
  const eachPair = (visit: (a: number, b: number, apart: number) => void, reachMm: number): void =>
    index.eachPair((a, b) => {
      if (turnBetween(sorted[a].axisDeg, sorted[b].axisDeg) > 3) return;
      const apart = distance(sorted[a].at, sorted[b].at);
      if (apart <= reachMm) visit(a, b, apart);
    }, reachMm);
  const nearest = sorted.map(() => Infinity);
  eachPair((a, b, apart) => {
    nearest[a] = Math.min(nearest[a], apart);
    nearest[b] = Math.min(nearest[b], apart);
  }, reach);
  const farthest = largest(nearest.filter(Number.isFinite));
  const sets = new DisjointSets(sorted.length);
  eachPair(
    (a, b, apart) => {
      if (apart <= Math.min(nearest[a], nearest[b]) * (1 + PITCH_SHARE) + sorted[a].stepMm) sets.join(a, b);
    },
    Math.min(reach, farthest * (1 + PITCH_SHARE) + largest(sorted.map(({ stepMm }) => stepMm))),
  );
  return sets.groups().map((group) => ({
    members: group.map((i) => sorted[i]),
    pitchMm: group.length > 1 ? group.reduce((least, i) => Math.min(least, nearest[i]), Infinity) : undefined,
  }));
}

/**
 * `pair`: the two pads of a chip. `row`: equal pads at one pitch. `rows`: rows that face each other. `ring`: rows on
 * two or four sides of a large pad. `grid`: equal pads at one pitch in both directions. `component`: named by the
 * artwork, of no such pattern.
 */
export type GroupKind = 'pair' | 'row' | 'rows' | 'ring' | 'grid' | 'component';

/** A recognised pattern; members count from 0. */
export interface GroupPattern {
  readonly kind: GroupKind;
  readonly members: readonly number[];
  readonly pitchMm?: number;
  /** The large pad (or its panes) that the others stand around. */
  readonly centre?: readonly number[];
}

/** Openings that belong together, with the figures that describe them. */
export interface OpeningGroup {
  readonly kind: GroupKind;
  readonly component?: string;
  /** Numbers of the openings, counting from 1. */
  readonly openings: readonly number[];
  /** Numbers of the large pad or panes that the others stand around; among `openings`. */
  readonly centre: readonly number[];
  /** Distance between the centres of neighbours, mm. */
  readonly pitchMm?: number;
  /** The usual pad, mm, along its own sides: that nearer to X first where all such pads lie alike, else the longer one second. */
  readonly padMm: readonly [number, number];
  readonly padCount: number;
  /** Narrowest web between two of them, mm; undefined when they stand more than 5 mm apart. */
  readonly webMm?: number;
}

/** Webs wider than this are of no interest to a group, mm. */
const WIDE_WEB_MM = 5;

/** Works out the figures of a pattern. */
export function describeGroup(
  pattern: GroupPattern,
  openings: readonly Opening[],
  measures: readonly Measure[],
  { component, nearest }: { readonly component?: string; readonly nearest?: readonly (Web | undefined)[] },
): OpeningGroup {
  const centre = new Set(pattern.centre ?? []);
  const pads = pattern.members.filter((i) => !centre.has(i));
  const usual = usualPad(pads.length > 0 ? pads : pattern.members, measures);
  return {
    kind: pattern.kind,
    ...(component === undefined ? {} : { component }),
    openings: pattern.members.map((i) => i + 1).sort((p, q) => p - q),
    centre: [...centre].map((i) => i + 1).sort((p, q) => p - q),
    pitchMm: pattern.pitchMm,
    padMm: usual,
    padCount: pads.length,
    webMm:
      nearest &&
      narrowestWithin(pattern.members, openings, nearest, Math.max(WIDE_WEB_MM, (pattern.pitchMm ?? 0) * 0.8)),
  };
}

/** The size that most members share, to 2 um. */
function usualPad(members: readonly number[], measures: readonly Measure[]): [number, number] {
  const risingKey = (i: number): string =>
    risingSides(measures[i])
      .map((v) => Math.round(v * 500))
      .join('x');
  const [usual = []] = [...grouped(members, risingKey).values()].sort((p, q) => q.length - p.length);
  if (usual.length === 0) return [0, 0];
  const { widthMm, heightMm } = measures[usual[0]];
  const lies = (i: number): boolean => measures[i].widthMm > measures[i].heightMm;
  return usual.every((i) => lies(i) === lies(usual[0])) ? [widthMm, heightMm] : risingSides(measures[usual[0]]);
}

const risingSides = ({ widthMm, heightMm }: Measure): [number, number] => [
  Math.min(widthMm, heightMm),
  Math.max(widthMm, heightMm),
];

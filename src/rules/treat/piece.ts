import type { Opening, Region } from '../../geometry/types.js';
import { once } from '../../kept.js';
import type { Film } from '../film.js';
import { groupOpenings, type OpeningGroup } from '../group.js';
import type { Measure, Measurer } from '../measure.js';
import { nearestWebs } from '../webs.js';
import type { Action, RuleNumber, RuleScope } from './rule-types.js';

/** An opening, or a pane of one, on its way through the rules. */
export interface Piece {
  /** Number of the opening in the artwork, counting from 1. */
  readonly source: number;
  readonly opening: Opening;
  /** Protected by a `keep` rule, or treated by the same rules before. */
  readonly locked: boolean;
}

/** Facts of the film, the laser and the design that rules refer to. */
export interface FilmScope extends Film {
  readonly designThicknessMm?: number;
}

/** All pieces at one moment, with what is worked out about them only when a rule asks. */
export interface Snapshot {
  readonly pieces: readonly Piece[];
  readonly film: FilmScope;
  readonly measures: readonly Measure[];
  webMm(i: number): number | undefined;
  groups(): readonly OpeningGroup[];
  groupOf(i: number): OpeningGroup | undefined;
  scope(i: number): RuleScope;
}

/** Freezes the pieces as one rule sees them. */
export function takeSnapshot(pieces: readonly Piece[], film: FilmScope, measure: Measurer): Snapshot {
  const measures = pieces.map(({ opening }) => measure(opening));
  const openings = pieces.map(({ opening }) => opening);
  const webs = once(() => nearestWebs(openings));
  const groups = once(() => groupOpenings(openings, measures));
  const byPiece = once(
    () => new Map(groups().flatMap((group) => group.openings.map((number) => [number - 1, group] as const))),
  );
  const webMm = (i: number): number | undefined => webs()[i]?.distanceMm;
  const groupOf = (i: number): OpeningGroup | undefined => byPiece().get(i);
  return {
    pieces,
    film,
    measures,
    webMm,
    groups,
    groupOf,
    scope(i) {
      const { widthMm, heightMm, lengthMm, narrowestMm, areaMm2, perimeterMm } = measures[i];
      return {
        ...film,
        widthMm,
        heightMm,
        lengthMm,
        narrowestMm,
        areaMm2,
        perimeterMm,
        get pitchMm() {
          return groupOf(i)?.pitchMm;
        },
        get webMm() {
          return webMm(i);
        },
      };
    },
  };
}

/** A rule's number for one opening; undefined when there is none, or a name in its formula has no value there. */
export function numberFor(value: RuleNumber | undefined, scope: () => RuleScope): number | undefined {
  const number = typeof value === 'object' ? value.evaluate(scope()) : value;
  return typeof number === 'number' ? number : undefined;
}

/** What an action wants to do with one piece. */
export type Proposal =
  | { readonly regions: readonly Region[]; readonly note?: string }
  /** Left as it is, with the reason. */
  | { readonly stays: string };

export type Proposals = Map<number, Proposal>;

/** What a piece wants to grow to: walls moved by so many mm, or a shape of its own. */
export type Wish = number | Region;

export type ActionOf<K extends Action['kind']> = Extract<Action, { kind: K }>;

/** An action that looks at one piece at a time: what becomes of it, how it wants to grow, or nothing. */
export type PieceAct<K extends Action['kind']> = (
  action: ActionOf<K>,
  snapshot: Snapshot,
) => (
  i: number,
  numberOf: (value: RuleNumber | undefined) => number | undefined,
) => Proposal | { readonly grows: Wish } | undefined;

/** The web that must stay when something grows or is trimmed: as told, else what the laser can leave, and never less than the film's thickness. */
export function webToLeave(told: RuleNumber | undefined, film: FilmScope): number {
  return numberFor(told, () => film) ?? Math.max(film.minWebMm ?? 0, film.thicknessMm);
}

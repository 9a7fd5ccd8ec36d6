import { InputError, type Warning } from '../../errors.js';
import { openingArea } from '../../geometry/area.js';
import { cleanOpenings, NO_AREA_MM2, requireOpenings } from '../../geometry/clean.js';
import { type Copy, copyOf, tagged } from '../../geometry/copies.js';
import type { Opening, Point, Region } from '../../geometry/types.js';
import { limited } from '../../geometry/work-budget.js';
import { checkGiven, needed, someList, someNumber } from '../../given.js';
import { grouped } from '../../kept.js';
import { tellHowFar } from '../../work-watch.js';
import { type FilmOptions, filmOf } from '../film.js';
import { createMeasurer, type Measurer } from '../measure.js';
import { cutUnderChip } from './cut-under-chip.js';
import { keepWebs } from './keep-webs.js';
import { marksOf, ruleSetMark, withMark } from './mark.js';
import { panes } from './panes.js';
import { type ActionOf, type FilmScope, type Piece, type Proposals, type Snapshot, takeSnapshot } from './piece.js';
import { grow, matchVolume, onEach, round, roundEnds, shrinkSides, widen } from './resize.js';
import { type Action, FORMULA_KEY, type Rule, type RuleSet } from './rule-types.js';
import { selects } from './select.js';
import { lacksLimit, leftOver, selectedNothing, treatedBefore, withoutLimit } from './treat-warnings.js';

/** What rules need to know besides the openings. */
export interface TreatOptions extends FilmOptions {
  /** The foil that the pads were designed for, mm, over what the rule set says. */
  readonly designThicknessMm?: number;
}

/**
 * Applies a rule set to openings, rule by rule; each rule sees what the ones before it left. The openings that come back
 * carry the rule set's mark: going through the same rules again leaves them as they are.
 *
 * @param openings - mm; their position + 1 is their number
 * @param rules - see {@link readRules}
 * @throws {InputError} TOO_MUCH for openings that take more than all reason; BAD_OPENING; THICKNESS; RULES_NOT_READ for formulas that are still text
 * @example treatOpenings(artwork.openings, await readRules(rules, 'plain.json'), { thicknessMm: 0.1 }).openings
 */
export function treatOpenings(openings: readonly Opening[], rules: RuleSet, options: TreatOptions): TreatResult {
  checkGiven('rules', rules, { rules: needed(someList) });
  checkGiven('options', options, { thicknessMm: someNumber, designThicknessMm: someNumber });
  requireOpenings(openings);
  checkRules(rules);
  return limited(openings, () => treated(openings, rules, options));
}

function treated(given: readonly Opening[], rules: RuleSet, options: TreatOptions): TreatResult {
  const { openings, warnings } = cleanOpenings(given);
  const mark = ruleSetMark(rules);
  const measure = createMeasurer();
  const film: FilmScope = {
    ...filmOf(options),
    designThicknessMm: options.designThicknessMm ?? rules.designThicknessMm,
  };
  const before = openings.map((opening) => marksOf(opening).includes(mark));
  const locked = (opening: Opening, i: number): boolean => before[i] || openingArea(opening) < NO_AREA_MM2;
  let pieces: Piece[] = openings.map((opening, i) => ({ source: i + 1, opening, locked: locked(opening, i) }));
  const changes: RuleChange[] = [];
  const refusals: Refusal[] = [];
  const applied: TreatResult['rules'][number][] = [];
  if (before.some(Boolean)) warnings.push(treatedBefore(before, rules));
  let snapshot = takeSnapshot(pieces, film, measure);
  for (const [done, rule] of rules.rules.entries()) {
    tellHowFar('treating', done, rules.rules.length);
    const selected = pieces.flatMap(({ locked }, i) => (!locked && selects(rule.select, i, snapshot) ? [i] : []));
    const outcome = applyRule(rule, selected, snapshot, measure);
    pieces = outcome.pieces;
    if (outcome.changes.length > 0 || rule.action.kind === 'keep') snapshot = takeSnapshot(pieces, film, measure);
    for (const change of outcome.changes) changes.push(change);
    for (const refusal of outcome.refusals) refusals.push(refusal);
    applied.push({ name: rule.name, selected: selected.length, changed: outcome.changes.length });
    if (selected.length === 0 && !before.every(Boolean)) warnings.push(selectedNothing(rule));
    if (selected.length > 0 && lacksLimit(rule, film)) warnings.push(withoutLimit(rule, film));
  }
  warnings.push(...leftOver(pieces, film, measure));
  return {
    openings: pieces.map(({ opening }) => withMark(opening, mark)),
    changes,
    refusals,
    accounts: accountsOf(openings, pieces, changes, before),
    rules: applied,
    warnings,
    mark,
  };
}

function checkRules(rules: RuleSet): void {
  const isText = ([key, value]: readonly [string, unknown]): boolean =>
    typeof value === 'string'
      ? FORMULA_KEY.test(key)
      : typeof value === 'object' && value !== null && Object.entries(value).some(isText);
  const i = rules.rules.findIndex((rule) => isText(['', rule]));
  if (i < 0) return;
  throw new InputError({
    code: 'RULES_NOT_READ',
    place: { key: `rules.${i}` },
    message: 'this rule set holds formulas that are still text.',
    hint: 'Read it with readRules first.',
  });
}

function accountsOf(
  openings: readonly Opening[],
  pieces: readonly Piece[],
  changes: readonly RuleChange[],
  before: readonly boolean[],
): Account[] {
  const becomes = grouped([...pieces.keys()], (i) => pieces[i].source);
  const changed = new Set(changes.map(({ opening }) => opening));
  return openings.map((opening, i): Account => {
    const parts = (becomes.get(i + 1) ?? []).map((k) => k + 1);
    const fate = before[i]
      ? 'treated before'
      : parts.length === 0
        ? 'dropped'
        : parts.length > 1
          ? 'split'
          : changed.has(i + 1)
            ? 'changed'
            : 'unchanged';
    return {
      opening: i + 1,
      fate,
      becomes: parts,
      areaBeforeMm2: openingArea(opening),
      areaAfterMm2: parts.reduce((sum, number) => sum + openingArea(pieces[number - 1].opening), 0),
    };
  });
}

type Kind = Action['kind'];
type Act<K extends Kind> = (selected: readonly number[], action: ActionOf<K>, snapshot: Snapshot) => Proposals;

const ACTS: { readonly [K in Kind]: Act<K> } = {
  shrink: onEach(shrinkSides),
  grow: onEach(grow),
  'round-corners': onEach(round),
  'match-volume': onEach(matchVolume),
  panes: onEach(panes),
  'cut-under-chip': onEach(cutUnderChip),
  'round-ends': onEach(roundEnds),
  widen: onEach(widen),
  'keep-webs': keepWebs,
  drop: onEach(() => () => ({ regions: [] })),
  keep: () => new Map(),
};

/** Lets a rule act on the pieces it selected: the pieces afterwards, what changed, and what it left alone. */
function applyRule(
  rule: Rule,
  selected: readonly number[],
  snapshot: Snapshot,
  measure: Measurer,
): { pieces: Piece[]; changes: RuleChange[]; refusals: Refusal[] } {
  const changes: RuleChange[] = [];
  const refusals: Refusal[] = [];
  if (selected.length === 0) return { pieces: [...snapshot.pieces], changes, refusals };
  const act = ACTS[rule.action.kind] as Act<Kind>;
  const proposals = act(selected, rule.action, snapshot);
  const locks = rule.action.kind === 'keep' ? new Set(selected) : undefined;
  const pieces = snapshot.pieces.flatMap((piece, i): Piece[] => {
    const proposal = proposals.get(i);
    if (!proposal) return [locks?.has(i) ? { ...piece, locked: true } : piece];
    if ('stays' in proposal) {
      refusals.push({ opening: piece.source, rule: rule.name, reason: proposal.stays });
      return [piece];
    }
    const { regions, note } = proposal;
    if (regions.length === 1 && sameRegion(regions[0], piece.opening)) return [piece];
    const { tag } = piece.opening;
    const after = regions.map((region) => tagged(region, tag));
    changes.push(changeOf(rule, piece, after, measure, note));
    return after.map((opening) => ({ ...piece, opening }));
  });
  return { pieces, changes, refusals };
}

const SAME_MM = 2e-6;

function sameRegion(p: Region, q: Region): boolean {
  // Copies are compared by their shapes, as far apart as they were laid: most differ in their number of corners.
  const [{ shape: s, dx: sx, dy: sy }, { shape: t, dx: tx, dy: ty }] = [p, q].map(asCopy);
  const [a, b] = [s, t].map(({ outer, islands }) => [outer, ...islands]);
  if (a.length !== b.length || a.some((ring, i) => ring.length !== b[i].length)) return false;
  const near = (one: Point, other: Point): boolean =>
    Math.abs(one[0] + sx - other[0] - tx) < SAME_MM && Math.abs(one[1] + sy - other[1] - ty) < SAME_MM;
  // Clippers may begin a ring at another corner.
  return a.every((ring, r) => {
    const start = b[r].findIndex((point) => near(ring[0], point));
    return start >= 0 && ring.every((point, i) => near(point, b[r][(start + i) % ring.length]));
  });
}

const asCopy = (region: Region): Copy => copyOf(region) ?? { shape: region, dx: 0, dy: 0 };

function changeOf(rule: Rule, piece: Piece, after: readonly Opening[], measure: Measurer, note?: string): RuleChange {
  const old = measure(piece.opening);
  const sizes = after.map(measure);
  const areaMm2 = sizes.reduce((sum, size) => sum + size.areaMm2, 0);
  const mean = (axis: 0 | 1): number => sizes.reduce((sum, s) => sum + s.centroid[axis] * s.areaMm2, 0) / areaMm2;
  return {
    opening: piece.source,
    rule: rule.name,
    action: rule.action.kind,
    before: { widthMm: old.widthMm, heightMm: old.heightMm, areaMm2: old.areaMm2, pieces: 1 },
    after: {
      widthMm: sizes[0]?.widthMm ?? 0,
      heightMm: sizes[0]?.heightMm ?? 0,
      areaMm2,
      pieces: after.length,
    },
    areaPercent: (100 * areaMm2) / old.areaMm2,
    centreMovedMm: after.length > 0 ? Math.hypot(mean(0) - old.centroid[0], mean(1) - old.centroid[1]) : 0,
    ...(note === undefined ? {} : { note }),
  };
}

/** Size of an opening, or of all its panes together. */
export interface OpeningSize {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly areaMm2: number;
  /** 1, or the number of panes; 0 when it was dropped. */
  readonly pieces: number;
}

/** What one rule did to one opening. */
export interface RuleChange {
  /** Number of the opening in the artwork, counting from 1. */
  readonly opening: number;
  readonly rule: string;
  readonly action: Rule['action']['kind'];
  readonly before: OpeningSize;
  readonly after: OpeningSize;
  /** Area after, percent of the area before. */
  readonly areaPercent: number;
  /** How far the centre of area moved, mm. */
  readonly centreMovedMm: number;
  readonly note?: string;
}

/** An opening that a rule selected and yet left as it was, with the reason. */
export interface Refusal {
  readonly opening: number;
  readonly rule: string;
  readonly reason: string;
}

/** What became of one opening of the artwork. */
export interface Account {
  readonly opening: number;
  readonly fate: 'unchanged' | 'changed' | 'split' | 'dropped' | 'treated before';
  /** Positions in the result's openings, counting from 1. */
  readonly becomes: readonly number[];
  readonly areaBeforeMm2: number;
  readonly areaAfterMm2: number;
}

export interface TreatResult {
  readonly openings: readonly Opening[];
  readonly changes: readonly RuleChange[];
  readonly refusals: readonly Refusal[];
  /** One per opening of the artwork, in order. */
  readonly accounts: readonly Account[];
  /** One per rule, in order. */
  readonly rules: readonly { readonly name: string; readonly selected: number; readonly changed: number }[];
  readonly warnings: readonly Warning[];
  /** Name and hash of the rule set, as the treated openings carry it. */
  readonly mark: string;
}

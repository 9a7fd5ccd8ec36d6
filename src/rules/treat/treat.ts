import { InputError, type Warning } from '../../errors.js';
import { openingArea } from '../../geometry/area.js';
import type { Opening, Point, Region } from '../../geometry/types.js';
import { checkOpeningsAtDoor, NO_AREA_MM2 } from '../door.js';
import { type FilmOptions, filmOf } from '../film.js';
import { reaches } from '../findings.js';
import { createMeasurer, type Measurer } from '../measure.js';
import { websBelow } from '../webs.js';
import { cutUnderChip } from './cut-under-chip.js';
import { keepWebs } from './keep-webs.js';
import { marksOf, ruleSetMark, withMark } from './mark.js';
import { panes } from './panes.js';
import { type FilmScope, type Piece, type Proposals, type Snapshot, takeSnapshot } from './piece.js';
import { grow, matchVolume, round, shrink, widen } from './resize.js';
import { roundEnds } from './round-ends.js';
import type { Rule, RuleSet } from './rule-types.js';
import { selects } from './select.js';

/** What rules need to know besides the openings. */
export interface TreatOptions extends FilmOptions {
  /** The foil that the pads were designed for, mm, over what the rule set says. */
  readonly designThicknessMm?: number;
}

/** Size of an opening, or of all its panes together. */
export interface Size {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly areaMm2: number;
  /** 1, or the number of panes; 0 when it was dropped. */
  readonly pieces: number;
}

/** What one rule did to one opening. */
export interface Change {
  /** Number of the opening in the artwork, counting from 1. */
  readonly opening: number;
  readonly rule: string;
  readonly action: Rule['action']['kind'];
  readonly before: Size;
  readonly after: Size;
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
  readonly changes: readonly Change[];
  readonly refusals: readonly Refusal[];
  /** One per opening of the artwork, in order. */
  readonly accounts: readonly Account[];
  /** One per rule, in order. */
  readonly rules: readonly { readonly name: string; readonly selected: number; readonly changed: number }[];
  readonly warnings: readonly Warning[];
  /** Name and hash of the rule set, as the treated openings carry it. */
  readonly mark: string;
}

/**
 * Applies a rule set to openings, rule by rule; each rule sees what the ones before it left. The openings that come back
 * carry the rule set's mark: going through the same rules again leaves them as they are.
 *
 * @param openings - mm; their position + 1 is their number
 * @param rules - see {@link readRules}
 * @throws {InputError} BAD_OPENING; THICKNESS; RULES_NOT_READ for formulas that are still text
 * @example treatOpenings(artwork.openings, await readRules(text, 'plain.json'), { thicknessMm: 0.1 }).openings
 */
export function treatOpenings(openings: readonly Opening[], rules: RuleSet, options: TreatOptions): TreatResult {
  checkRules(rules);
  const mark = ruleSetMark(rules);
  const measure = createMeasurer();
  const film: FilmScope = {
    ...filmOf(options),
    designThicknessMm: options.designThicknessMm ?? rules.designThicknessMm,
  };
  const before = openings.map((opening) => marksOf(opening).includes(mark));
  const locked = (opening: Opening, i: number): boolean => before[i] || openingArea(opening) < NO_AREA_MM2;
  let pieces: Piece[] = openings.map((opening, i) => ({ source: i + 1, opening, locked: locked(opening, i) }));
  const changes: Change[] = [];
  const refusals: Refusal[] = [];
  const warnings: Warning[] = checkOpeningsAtDoor(openings);
  const told: TreatResult['rules'][number][] = [];
  if (before.some(Boolean)) warnings.push(treatedBefore(before, rules));
  let snapshot = takeSnapshot(pieces, film, measure);
  for (const rule of rules.rules) {
    const selected = pieces.flatMap(({ locked }, i) => (!locked && selects(rule.select, i, snapshot) ? [i] : []));
    const outcome = applyRule(rule, selected, snapshot, measure);
    pieces = outcome.pieces;
    if (outcome.changes.length > 0 || rule.action.kind === 'keep') snapshot = takeSnapshot(pieces, film, measure);
    changes.push(...outcome.changes);
    refusals.push(...outcome.refusals);
    told.push({ name: rule.name, selected: selected.length, changed: outcome.changes.length });
    if (selected.length === 0 && !before.every(Boolean)) warnings.push(selectedNothing(rule));
    if (selected.length > 0 && lacksLimit(rule, film)) warnings.push(withoutLimit(rule));
  }
  warnings.push(...leftOver(pieces, film, measure));
  return {
    openings: pieces.map(({ opening }) => withMark(opening, mark)),
    changes,
    refusals,
    accounts: accountsOf(openings, pieces, changes, before),
    rules: told,
    warnings,
    mark,
  };
}

function checkRules(rules: RuleSet): void {
  rules.rules.forEach(({ select, action }, i) => {
    const text = Object.entries({ ...action }).find(
      ([key, value]) => /(Mm|Percent)$/.test(key) && typeof value === 'string',
    );
    const bound = Object.values(select).find(
      (value) =>
        typeof value === 'object' &&
        value !== null &&
        ['min', 'max'].some((k) => typeof (value as Record<string, unknown>)[k] === 'string'),
    );
    if (text || bound) {
      throw new InputError({
        code: 'RULES_NOT_READ',
        place: { key: `rules.${i}` },
        message: 'this rule set holds formulas that are still text.',
        hint: 'Read it with readRules first.',
      });
    }
  });
}

function propose(rule: Rule, selected: readonly number[], snapshot: Snapshot): Proposals {
  const { action } = rule;
  switch (action.kind) {
    case 'shrink':
      return shrink(selected, action, snapshot);
    case 'grow':
      return grow(selected, action, snapshot);
    case 'round-corners':
      return round(selected, action, snapshot);
    case 'match-volume':
      return matchVolume(selected, action, snapshot);
    case 'panes':
      return panes(selected, action, snapshot);
    case 'cut-under-chip':
      return cutUnderChip(selected, action, snapshot);
    case 'round-ends':
      return roundEnds(selected, snapshot);
    case 'widen':
      return widen(selected, action, snapshot);
    case 'keep-webs':
      return keepWebs(selected, action, snapshot);
    case 'drop':
      return new Map(selected.map((i) => [i, { regions: [] }]));
    case 'keep':
      return new Map();
  }
}

function applyRule(
  rule: Rule,
  selected: readonly number[],
  snapshot: Snapshot,
  measure: Measurer,
): { pieces: Piece[]; changes: Change[]; refusals: Refusal[] } {
  const changes: Change[] = [];
  const refusals: Refusal[] = [];
  if (selected.length === 0) return { pieces: [...snapshot.pieces], changes, refusals };
  const proposals = propose(rule, selected, snapshot);
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
    const after = regions.map(({ outer, islands }): Opening => ({ outer, islands, ...(tag ? { tag } : {}) }));
    changes.push(changeOf(rule, piece, after, measure, note));
    return after.map((opening) => ({ ...piece, opening }));
  });
  return { pieces, changes, refusals };
}

const SAME_MM = 2e-6;
/** Arcs are polygons: a web is called thin when it lacks more than this, mm. */
const WEB_SLACK_MM = 1.5e-4;

function sameRegion(p: Region, q: Region): boolean {
  const rings = (region: Region) => [region.outer, ...region.islands];
  const [a, b] = [rings(p), rings(q)];
  if (a.length !== b.length || a.some((ring, i) => ring.length !== b[i].length)) return false;
  // Clippers may begin a ring at another corner.
  return a.every((ring, r) => {
    const start = b[r].findIndex((point) => near(point, ring[0]));
    return start >= 0 && ring.every((point, i) => near(point, b[r][(start + i) % ring.length]));
  });
}

const near = (p: Point, q: Point): boolean => Math.abs(p[0] - q[0]) < SAME_MM && Math.abs(p[1] - q[1]) < SAME_MM;

function changeOf(rule: Rule, piece: Piece, after: readonly Opening[], measure: Measurer, note?: string): Change {
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

function treatedBefore(before: readonly boolean[], rules: RuleSet): Warning {
  const numbers = before.flatMap((was, i) => (was ? [i + 1] : []));
  return {
    code: 'TREATED_BEFORE',
    message: `${numbers.length === before.length ? 'all' : numbers.length} openings went through the rule set "${rules.name}" before and stay as they are.`,
    hint: 'To treat them for another film, start from the original artwork.',
    openings: numbers,
  };
}

function selectedNothing(rule: Rule): Warning {
  return {
    code: 'RULE_SELECTED_NOTHING',
    message: `the rule "${rule.name}" selected no opening.`,
    hint: 'That may be right for this board; else look at its selector.',
  };
}

function lacksLimit({ action }: Rule, film: FilmScope): boolean {
  return action.kind === 'widen' && action.toMm === undefined && film.minOpeningMm === undefined;
}

function withoutLimit(rule: Rule): Warning {
  return {
    code: 'RULE_WITHOUT_LIMIT',
    message: `the rule "${rule.name}" did nothing: it is not known what this laser opens.`,
    hint: 'Give a profile with readings of an aperture ladder, or "toMm" in the rule.',
  };
}

/** What the rules left below the laser's limits. */
function leftOver(pieces: readonly Piece[], film: FilmScope, measure: Measurer): Warning[] {
  const warnings: Warning[] = [];
  const flag = (code: string, words: string, indices: readonly number[]): void => {
    if (indices.length === 0) return;
    const openings = [...new Set(indices.map((i) => pieces[i].source))];
    warnings.push({
      code,
      message: `${openings.length} ${openings.length === 1 ? 'opening is' : 'openings are'} left ${words}.`,
      openings,
    });
  };
  const { minOpeningMm, minWebMm } = film;
  const all = pieces.map((_, i) => i);
  if (minOpeningMm !== undefined) {
    const small = all.filter((i) => !reaches(measure(pieces[i].opening).narrowestMm, minOpeningMm));
    flag('OPENING_STAYS_SMALL', `narrower than ${minOpeningMm} mm, which this laser may not open`, small);
  }
  const least = Math.max(minWebMm ?? 0, film.thicknessMm);
  const webs = websBelow(
    pieces.map(({ opening }) => opening),
    least - WEB_SLACK_MM,
  );
  const thin = webs.flatMap(({ p, q }) => [p, q]).sort((p, q) => p - q);
  flag('WEB_STAYS_THIN', `with a web below ${least} mm beside it`, thin);
  return warnings;
}

function accountsOf(
  openings: readonly Opening[],
  pieces: readonly Piece[],
  changes: readonly Change[],
  before: readonly boolean[],
): Account[] {
  const becomes = openings.map((): number[] => []);
  pieces.forEach(({ source }, i) => {
    becomes[source - 1].push(i + 1);
  });
  const changed = new Set(changes.map(({ opening }) => opening));
  return openings.map((opening, i): Account => {
    const parts = becomes[i];
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

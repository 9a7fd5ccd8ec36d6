import { InputError } from '../../errors.js';
import { openingArea } from '../../geometry/area.js';
import { cleanOpenings, NO_AREA_MM2, requireOpenings } from '../../geometry/clean.js';
import type { Opening } from '../../geometry/types.js';
import { limited } from '../../geometry/work-budget.js';
import { checkGiven, needed, someList, someNumber } from '../../given.js';
import { type FilmOptions, filmOf } from '../film.js';
import { createMeasurer } from '../measure.js';
import { applyRule } from './apply-rule.js';
import { marksOf, ruleSetMark, withMark } from './mark.js';
import { type FilmScope, type Piece, takeSnapshot } from './piece.js';
import type { RuleSet } from './rule-types.js';
import { selects } from './select.js';
import type { Account, Refusal, RuleChange, TreatResult } from './treat-result.js';
import { lacksLimit, leftOver, selectedNothing, treatedBefore, withoutLimit } from './treat-warnings.js';

export type { Account, Refusal, RuleChange, Size, TreatResult } from './treat-result.js';

import { tellHowFar } from '../../work-watch.js';

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

function accountsOf(
  openings: readonly Opening[],
  pieces: readonly Piece[],
  changes: readonly RuleChange[],
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

import type { Warning } from '../../errors.js';
import { present } from '../../kept.js';
import { reaches } from '../check-opening.js';
import type { Measurer } from '../measure.js';
import { websBelow } from '../webs.js';
import type { FilmScope, Piece } from './piece.js';
import type { Rule, RuleSet } from './rule-types.js';

/** Arcs are polygons: a web is called thin when it lacks more than this, mm. */
const WEB_SLACK_MM = 1.5e-4;

/** Some openings carry the rule set's mark already. */
export function treatedBefore(before: readonly boolean[], rules: RuleSet): Warning {
  const numbers = before.flatMap((was, i) => (was ? [i + 1] : []));
  return {
    code: 'TREATED_BEFORE',
    message: `${numbers.length === before.length ? 'all' : numbers.length} openings went through the rule set "${rules.name}" before and stay as they are.`,
    hint: 'To treat them for another film, start from the original artwork.',
    openings: numbers,
  };
}

/** A rule's selector fits no opening. */
export function selectedNothing(rule: Rule): Warning {
  return {
    code: 'RULE_SELECTED_NOTHING',
    message: `the rule "${rule.name}" selected no opening.`,
    hint: 'That may be right for this board; else look at its selector.',
  };
}

/** Whether a rule rests on the laser's smallest opening, and nobody gave it. */
export function lacksLimit({ action }: Rule, film: FilmScope): boolean {
  return action.kind === 'widen' && action.toMm === undefined && film.minOpeningMm === undefined;
}

/** The words for {@link lacksLimit}. */
export function withoutLimit(rule: Rule, { smallestOpenedMm }: FilmScope): Warning {
  const [why, remedy] =
    smallestOpenedMm === undefined
      ? ['it is not known what this laser opens', 'Give a profile with readings of an aperture ladder']
      : [
          `the smallest opening cut, ${smallestOpenedMm} mm, still opened; the limit lies below it`,
          'Cut a ladder with smaller slots',
        ];
  return {
    code: 'RULE_WITHOUT_LIMIT',
    message: `the rule "${rule.name}" did nothing: ${why}.`,
    hint: `${remedy}, or give "toMm" in the rule.`,
  };
}

/** What the rules left below the laser's limits. */
export function leftOver(pieces: readonly Piece[], film: FilmScope, measure: Measurer): Warning[] {
  const flag = (code: string, words: string, indices: readonly number[]): Warning | false => {
    const openings = [...new Set(indices.map((i) => pieces[i].source))];
    const message = `${openings.length} ${openings.length === 1 ? 'opening is' : 'openings are'} left ${words}.`;
    return openings.length > 0 && { code, message, openings };
  };
  const { minOpeningMm, minWebMm } = film;
  const all = pieces.map((_, i) => i);
  const small = all.filter((i) => !reaches(measure(pieces[i].opening).narrowestMm, minOpeningMm ?? 0));
  const least = Math.max(minWebMm ?? 0, film.thicknessMm);
  const webs = websBelow(
    pieces.map(({ opening }) => opening),
    least - WEB_SLACK_MM,
  );
  const thin = webs.flatMap(({ p, q }) => [p, q]).sort((p, q) => p - q);
  return present(
    flag('OPENING_STAYS_SMALL', `narrower than ${minOpeningMm} mm, which this laser may not open`, small),
    flag('WEB_STAYS_THIN', `with a web below ${least} mm beside it`, thin),
  );
}

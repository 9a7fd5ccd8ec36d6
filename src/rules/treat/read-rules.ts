import { InputError } from '../../errors.js';
import { formulaReader } from '../../formula.js';
import { parseShipped } from '../../schema/shipped.js';
import { FORMULA_KEY, type Rule, type RuleSet, VARIABLES } from './rule-types.js';

/** Conditions of which one name, or a list of names, is given. */
const LISTS = ['shape', 'group', 'component', 'pin'];
/** What else than bounds may be empty: a selector takes every opening then. */
const MAY_BE_EMPTY = ['select', 'not', 'attribute'];

type Path = readonly (string | number)[];

/**
 * Reads a rule set; what comes back are rules with their formulas ready.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_EXPRESSION with file, line and key
 * @example (await readRules(rules, 'plain.json')).rules.length
 */
export async function readRules(text: string, file: string): Promise<RuleSet> {
  const readFormula = await formulaReader();
  return parseShipped(
    'rules',
    text,
    file,
    ({ $schema: _, ...rules }: RuleSet & { $schema?: string }, refuse): RuleSet => {
      const formula = (given: string, path: Path): unknown => {
        try {
          return readFormula(given, VARIABLES, {});
        } catch (error) {
          if (!(error instanceof InputError)) throw error;
          const [{ message, code, hint }] = error.problems;
          return refuse(path, message, { code, hint });
        }
      };
      const ready = (value: unknown, path: Path): unknown => {
        const key = String(path.at(-1));
        if (typeof value === 'string' && FORMULA_KEY.test(key)) return formula(value, path);
        if (LISTS.includes(key)) return Array.isArray(value) ? value : [value];
        if (typeof value !== 'object' || value === null || Array.isArray(value) || key === 'attribute') return value;
        if (Object.keys(value).length === 0 && !MAY_BE_EMPTY.includes(key)) refuse(path, 'expected min, max or both');
        return Object.fromEntries(Object.entries(value).map(([name, inner]) => [name, ready(inner, [...path, name])]));
      };
      rules.rules.forEach(({ action }, i) => {
        if (action.kind !== 'shrink' && action.kind !== 'grow') return;
        if ((action.perSideMm === undefined) === (action.areaPercent === undefined))
          refuse(['rules', i, 'action'], 'expected either perSideMm or areaPercent');
      });
      const readyRule = (rule: Rule, i: number): Rule => ({
        ...rule,
        select: ready(rule.select, ['rules', i, 'select']) as Rule['select'],
        action: ready(rule.action, ['rules', i, 'action']) as Rule['action'],
      });
      return { ...rules, rules: rules.rules.map(readyRule) };
    },
  );
}

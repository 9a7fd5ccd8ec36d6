import { readExpression } from './expression.js';
import type { Action, Rule, RuleSet, Selector } from './rule-types.js';

/** Keys whose strings are formulas. */
const NUMBER_KEYS = new Set([
  'min',
  'max',
  'perSideMm',
  'areaPercent',
  'leaveWebMm',
  'radiusMm',
  'designThicknessMm',
  'coveragePercent',
  'webMm',
  'smallestPaneMm',
  'paneMm',
  'depthPercent',
  'tipPercent',
  'toMm',
]);

const LIST_KEYS = ['shape', 'group', 'component', 'pin'];

/** Turns strings in number places into expressions; everything else stays. */
async function withExpressions(value: unknown, file: string, path: string): Promise<unknown> {
  if (Array.isArray(value)) return Promise.all(value.map((item, i) => withExpressions(item, file, `${path}.${i}`)));
  if (typeof value !== 'object' || value === null) return value;
  const entries = await Promise.all(
    Object.entries(value).map(async ([key, item]): Promise<[string, unknown]> => {
      const place = `${path}.${key}`;
      if (key === 'attribute') return [key, item];
      if (typeof item === 'string' && NUMBER_KEYS.has(key)) {
        return [key, await readExpression(item, { file, key: place })];
      }
      return [key, await withExpressions(item, file, place)];
    }),
  );
  return Object.fromEntries(entries);
}

/** A single word where a list is meant is a list of one. */
function withLists(select: Record<string, unknown>): Selector {
  const lists = Object.entries(select).map(([key, value]): [string, unknown] => {
    if (key === 'not') return [key, withLists(value as Record<string, unknown>)];
    return [key, LIST_KEYS.includes(key) && !Array.isArray(value) ? [value] : value];
  });
  return Object.fromEntries(lists) as Selector;
}

/**
 * Reads a rule set.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_EXPRESSION with file and key
 * @example (await readRules(rules, 'plain.json')).rules.length
 */
export async function readRules(text: string, file: string): Promise<RuleSet> {
  const [{ parseJsonFile }, { rulesSchema }] = await Promise.all([
    import('../../schema/json-file.js'),
    import('./rules-schema.js'),
  ]);
  const { $schema: _, rules, ...head } = parseJsonFile(rulesSchema, text, file);
  const read = await Promise.all(
    rules.map(async ({ select, action, ...rest }, i): Promise<Rule> => {
      const path = `rules.${i}`;
      return {
        ...rest,
        select: withLists((await withExpressions(select, file, `${path}.select`)) as Record<string, unknown>),
        action: (await withExpressions(action, file, `${path}.action`)) as Action,
      };
    }),
  );
  return { ...head, rules: read };
}

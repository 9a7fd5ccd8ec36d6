import type { RuleSet } from './rule-types.js';

/**
 * Reads a rule set.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE, BAD_EXPRESSION with file, line and key
 * @example (await readRules(rules, 'plain.json')).rules.length
 */
export async function readRules(text: string, file: string): Promise<RuleSet> {
  const [{ parseJsonFile }, { rulesSchema }] = await Promise.all([
    import('../../schema/json-file.js'),
    import('./rules-schema.js'),
  ]);
  const { $schema: _, ...rules } = parseJsonFile(rulesSchema, text, file);
  return rules;
}

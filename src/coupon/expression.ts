import { InputError } from '../errors.js';
import { formulaReader } from '../formula.js';
import type { Expression } from './pattern.js';

/** Values that an expression may use by name. */
export type Scope = Readonly<Record<string, number>>;

/** Evaluates expressions of a pattern; `key` names the place in the pattern, for messages. */
export interface Evaluator {
  number(expression: Expression, scope: Scope, key: string): number;
  condition(expression: string | undefined, scope: Scope, key: string): boolean;
}

/** Units by name: 12.2 mil is 12.2 times this many mm. Inch = 25.4 mm exactly. */
const UNITS: Scope = { mm: 1, cm: 10, um: 0.001, mil: 0.0254, inch: 25.4 };

/**
 * Works out formulas of a pattern.
 *
 * @throws {InputError} by the evaluator: BAD_EXPRESSION with the key
 */
export async function expressionEvaluator(): Promise<Evaluator> {
  const read = await formulaReader();
  const evaluate = (text: string, scope: Scope, key: string): number | boolean | undefined => {
    const known = { ...scope, ...UNITS };
    return read(text, Object.keys(known), { key }).evaluate(known);
  };
  const problem = (key: string, message: string, hint: string): InputError =>
    new InputError({ code: 'BAD_EXPRESSION', place: { key }, message, hint });
  return {
    number(expression, scope, key) {
      const value = typeof expression === 'number' ? expression : evaluate(expression, scope, key);
      if (typeof value === 'number' && Number.isFinite(value)) return value;
      throw problem(key, `"${expression}" is not a number (${String(value)}).`, 'Check its names and divisions.');
    },
    condition(expression, scope, key) {
      if (expression === undefined) return true;
      const value = evaluate(expression, scope, key);
      if (typeof value === 'boolean') return value;
      const hint = 'Compare two values, for example "height >= 250".';
      throw problem(key, `"${expression}" is neither true nor false.`, hint);
    },
  };
}

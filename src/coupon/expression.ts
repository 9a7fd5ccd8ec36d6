import type { EvalFunction, MathNode } from 'mathjs';
import { InputError } from '../errors.js';
import { loadMath } from '../load-math.js';
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

const FUNCTIONS = new Set(['min', 'max', 'floor', 'ceil', 'round', 'abs', 'sqrt']);

const NODES = new Set([
  'ConstantNode',
  'SymbolNode',
  'OperatorNode',
  'ParenthesisNode',
  'FunctionNode',
  'ConditionalNode',
  'RelationalNode',
]);

/** A formula that is longer was not written by hand. */
const LONGEST = 1000;

function problem(key: string, message: string, hint: string): InputError {
  return new InputError({ code: 'BAD_EXPRESSION', place: { key }, message, hint });
}

/** Refuses everything but arithmetic on known names: no assignment, no access to objects, no functions that reach outside. */
function refuseUnsafe(root: MathNode, text: string, scope: Scope, key: string): void {
  const known = [...Object.keys(scope), ...Object.keys(UNITS)];
  root.traverse((node, path, parent) => {
    if (!NODES.has(node.type)) {
      throw problem(
        key,
        `"${text}" holds more than arithmetic (${node.type}).`,
        'Use numbers, names, + - * / ^ and brackets.',
      );
    }
    if (node.type === 'FunctionNode') {
      const { name } = (node as unknown as { fn: { name?: string } }).fn;
      if (name === undefined || !FUNCTIONS.has(name)) {
        throw problem(key, `"${text}" calls "${name ?? 'something'}".`, `Functions are ${[...FUNCTIONS].join(', ')}.`);
      }
    }
    if (node.type === 'SymbolNode' && !(parent?.type === 'FunctionNode' && path === 'fn')) {
      const { name } = node as unknown as { name: string };
      if (!Object.hasOwn(scope, name) && !Object.hasOwn(UNITS, name)) {
        throw problem(key, `"${text}" uses the unknown name "${name}".`, `Known names: ${known.join(', ')}.`);
      }
    }
  });
}

/**
 * Works out formulas of a pattern.
 *
 * @throws {InputError} by the evaluator: BAD_EXPRESSION with the key
 */
export async function expressionEvaluator(): Promise<Evaluator> {
  const { parse } = await loadMath();
  // The same few formulas are worked out for each place of a comb.
  const parsed = new Map<string, { readonly node: MathNode; readonly code: EvalFunction }>();
  const read = (text: string) => {
    const known = parsed.get(text);
    if (known) return known;
    const node = parse(text);
    const fresh = { node, code: node.compile() };
    parsed.set(text, fresh);
    return fresh;
  };
  const evaluate = (text: string, scope: Scope, key: string): unknown => {
    if (text.length > LONGEST) {
      const found = `a formula of ${text.length} letters; at most ${LONGEST} can be worked out.`;
      throw problem(key, found, 'Work out its parts as parameters of their own.');
    }
    try {
      const { node, code } = read(text);
      refuseUnsafe(node, text, scope, key);
      return code.evaluate({ ...UNITS, ...scope });
    } catch (error) {
      if (error instanceof InputError) throw error;
      const detail = error instanceof Error ? error.message : String(error);
      throw problem(key, `can't work out "${text}" (${detail}).`, 'Write it like "width - 10" or "12.2 mil".');
    }
  };
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
      throw problem(
        key,
        `"${expression}" is neither true nor false.`,
        'Compare two values, for example "height >= 250".',
      );
    },
  };
}

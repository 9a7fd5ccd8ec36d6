import type { MathNode } from 'mathjs';
import { InputError, type Place } from '../../errors.js';
import { loadMath } from '../../load-math.js';
import { nearestName } from '../../schema/nearest.js';
import { type RuleFormula, type RuleScope, VARIABLES, type Variable } from './rule-types.js';

const FUNCTIONS: Readonly<Record<string, (...values: number[]) => number>> = {
  min: Math.min,
  max: Math.max,
  sqrt: Math.sqrt,
  abs: Math.abs,
};

const OPERATORS: Readonly<Record<string, (a: number, b: number) => number>> = {
  '+': (a, b) => a + b,
  '-': (a, b) => a - b,
  '*': (a, b) => a * b,
  '/': (a, b) => a / b,
  '^': (a, b) => a ** b,
};

/** A formula that is longer was not written by hand. */
const LONGEST = 1000;

type Evaluate = (scope: RuleScope) => number | undefined;

function refuse(text: string, place: Place, message: string, hint: string): never {
  throw new InputError({ code: 'BAD_EXPRESSION', place, message: `"${text}": ${message}`, hint });
}

/** Only numbers, the known names, + - * / ^, brackets and a few functions: nothing that reaches outside. */
function build(node: MathNode, text: string, place: Place): Evaluate {
  const known = `Known names: ${VARIABLES.join(', ')}; functions: ${Object.keys(FUNCTIONS).join(', ')}.`;
  const part = (child: MathNode): Evaluate => build(child, text, place);
  const apply = (parts: readonly Evaluate[], combine: (...values: number[]) => number): Evaluate => {
    return (scope) => {
      const values = parts.map((evaluate) => evaluate(scope));
      return values.some((value) => value === undefined) ? undefined : combine(...(values as number[]));
    };
  };
  const any = node as MathNode & {
    value: unknown;
    name: string;
    op: string;
    args: MathNode[];
    content: MathNode;
    fn: { name?: string };
  };
  switch (node.type) {
    case 'ConstantNode':
      if (typeof any.value === 'number') {
        const value = any.value;
        return () => value;
      }
      break;
    case 'ParenthesisNode':
      return part(any.content);
    case 'SymbolNode': {
      const name = any.name;
      if ((VARIABLES as readonly string[]).includes(name)) return (scope) => scope[name as Variable];
      const nearest = nearestName(name, VARIABLES);
      return refuse(text, place, `"${name}" is not known.`, nearest ? `Did you mean "${nearest}"?` : known);
    }
    case 'OperatorNode': {
      if (any.args.length === 1 && any.op === '-') return apply([part(any.args[0])], (a) => -a);
      const operator = OPERATORS[any.op];
      if (any.args.length === 2 && operator) return apply(any.args.map(part), operator);
      break;
    }
    case 'FunctionNode': {
      const name = any.fn.name ?? '';
      const call = Object.hasOwn(FUNCTIONS, name) ? FUNCTIONS[name] : undefined;
      if (call && any.args.length > 0) return apply(any.args.map(part), call);
      break;
    }
  }
  return refuse(text, place, 'this can’t be worked out here.', `Use numbers, + - * / ^ and brackets. ${known}`);
}

/**
 * Reads a formula of a rule file.
 *
 * @throws {InputError} BAD_EXPRESSION
 */
export async function readExpression(text: string, place: Place): Promise<RuleFormula> {
  if (text.length > LONGEST) {
    const found = `a formula of ${text.length} letters; at most ${LONGEST} can be worked out.`;
    return refuse(`${text.slice(0, 40)}…`, place, found, 'Write it shorter.');
  }
  const { parse } = await loadMath();
  let node: MathNode;
  try {
    node = parse(text);
  } catch (error) {
    return refuse(text, place, `not a formula (${(error as Error).message}).`, 'For example "0.5 * pitchMm".');
  }
  return { text, evaluate: build(node, text, place) };
}

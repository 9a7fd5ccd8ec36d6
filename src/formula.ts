import type { MathNode } from 'mathjs';
import { InputError, type Place } from './errors.js';
import { didYouMean } from './schema/nearest.js';

/** Values by name. */
export type Scope = Readonly<Record<string, number | undefined>>;

/** A formula of a pattern or a rule file, ready to be worked out. */
export interface Formula {
  readonly text: string;
  /** Undefined where a name in it has no value, or nothing comes out that is a number or true or false. */
  evaluate(scope: Scope): number | boolean | undefined;
}

/** @throws {InputError} BAD_EXPRESSION for all but arithmetic, comparisons and a few functions of the names given */
export type ReadFormula = (text: string, names: readonly string[], place: Place) => Formula;

const FUNCTIONS = ['min', 'max', 'floor', 'ceil', 'round', 'abs', 'sqrt'];
const OPERATORS = ['+', '-', '*', '/', '^', '<', '>', '<=', '>=', '==', '!=', 'and', 'or', 'not'];

/** A formula that is longer was not written by hand. */
const LONGEST = 1000;

type Parse = (text: string) => MathNode;

/**
 * What reads formulas. Only patterns and rules need it, so it is no part of the program's start, and its library is the
 * bundled build, which loads in a third of the time that the smallest modular one takes.
 */
export async function formulaReader(): Promise<ReadFormula> {
  const bundle: unknown = await import('mathjs/lib/browser/math.js' as string);
  const { parse } = (bundle as { default: { parse: Parse } }).default;
  // The same few formulas are worked out for each place of a comb.
  const parsed = new Map<string, Omit<Formula, 'text'> & { readonly node: MathNode }>();
  return (text, names, place) => {
    const read = parsed.get(text) ?? parseFormula(text, names, place, parse);
    parsed.set(text, read);
    refuseUnsafe(read.node, text, names, place);
    return { text, evaluate: read.evaluate };
  };
}

function refuse(text: string, place: Place, message: string, hint: string): never {
  throw new InputError({ code: 'BAD_EXPRESSION', place, message: `"${text}": ${message}`, hint });
}

function parseFormula(text: string, names: readonly string[], place: Place, parse: Parse) {
  if (text.length > LONGEST) {
    const found = `a formula of ${text.length} letters; at most ${LONGEST} can be worked out.`;
    return refuse(`${text.slice(0, 40)}…`, place, found, 'Write it shorter, or its parts by themselves.');
  }
  let node: MathNode;
  try {
    node = parse(text);
  } catch (error) {
    return refuse(text, place, `not a formula (${(error as Error).message}).`, `For example "${names[0]} / 2".`);
  }
  const code = node.compile();
  const used = node.filter((one, path) => one.type === 'SymbolNode' && path !== 'fn').map((one) => `${one}`);
  const evaluate = (scope: Scope): number | boolean | undefined => {
    const values = used.map((name) => [name, scope[name]] as const);
    if (values.some(([, value]) => value === undefined)) return undefined;
    const result: unknown = code.evaluate(Object.fromEntries(values));
    return typeof result === 'number' || typeof result === 'boolean' ? result : undefined;
  };
  return { node, evaluate };
}

/** Refuses whatever may reach outside: assignments, objects, other functions, names that are not given. */
function refuseUnsafe(root: MathNode, text: string, names: readonly string[], place: Place): void {
  const known = `Known names: ${names.join(', ')}; functions: ${FUNCTIONS.join(', ')}.`;
  root.traverse((node, path) => {
    const any = node as unknown as { value: unknown; name: string; op: string; fn: { name?: string } };
    if (node.type === 'SymbolNode' && path !== 'fn' && !names.includes(any.name)) {
      refuse(text, place, `"${any.name}" is not known.`, didYouMean(any.name, names, known));
    }
    const isArithmetic =
      (node.type === 'ConstantNode' && typeof any.value === 'number') ||
      (node.type === 'OperatorNode' && OPERATORS.includes(any.op)) ||
      (node.type === 'FunctionNode' && FUNCTIONS.includes(any.fn.name ?? '')) ||
      ['SymbolNode', 'ParenthesisNode', 'ConditionalNode', 'RelationalNode'].includes(node.type);
    if (!isArithmetic)
      refuse(text, place, 'this can’t be worked out here.', `Use numbers, + - * / ^ and brackets. ${known}`);
  });
}

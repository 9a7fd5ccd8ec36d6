import type { Diagnostics } from '../paint/diagnostics.js';
import { type Command, shorten } from './lex.js';

/** One step of a macro: set a variable, or draw a primitive. */
export type MacroStep =
  | { readonly kind: 'set'; readonly variable: number; readonly value: MacroExpression; readonly line: number }
  | {
      readonly kind: 'draw';
      readonly code: number;
      readonly arguments: readonly MacroExpression[];
      readonly line: number;
    };

/** An aperture macro as defined by AM. */
export interface Macro {
  readonly name: string;
  readonly steps: readonly MacroStep[];
  readonly line: number;
}

/** Reads the body of an AM command. Steps that can't be read are problems, for the aperture would be wrong. */
export function parseMacro(name: string, line: number, body: readonly Command[], notes: Diagnostics): Macro {
  const steps: MacroStep[] = [];
  for (const word of body) {
    const text = word.text.replace(/\s+/g, '');
    notes.line = word.line;
    // A comment is "0 words"; its text may be anything.
    if (text === '' || /^0(?![\d.])/.test(word.text.trim())) continue;
    try {
      const step = parseStep(text, word.line);
      if (step) steps.push(step);
      else {
        notes.fail(
          'MACRO_PRIMITIVE',
          `macro "${name}": "${shorten(text)}" is neither a primitive nor a variable.`,
          'Use the primitives 1, 20, 21, 4, 5 and 7.',
        );
      }
    } catch (error) {
      if (!(error instanceof SyntaxError)) throw error;
      notes.fail('MACRO_EXPRESSION', `macro "${name}": ${shortMessage(error)}.`);
    }
  }
  return { name, steps, line };
}

function parseStep(text: string, line: number): MacroStep | undefined {
  const set = /^\$(\d+)=(.*)$/.exec(text);
  if (set) return { kind: 'set', variable: Number(set[1]), value: parseExpression(set[2]), line };
  const [code, ...rest] = text.split(',');
  if (!/^\d{1,3}$/.test(code)) return undefined;
  // A comma at the very end closes nothing but the list.
  if (rest.at(-1) === '') rest.pop();
  return { kind: 'draw', code: Number(code), arguments: rest.map(parseExpression), line };
}

function shortMessage(error: Error): string {
  return error.message.length > 120 ? `${error.message.slice(0, 120)}…` : error.message;
}

/** An arithmetic expression of an aperture macro, ready to be worked out for given variables. */
export type MacroExpression = (variables: ReadonlyMap<number, number>) => number;

const OPERATORS: Readonly<Record<string, (a: number, b: number) => number>> = {
  '+': (a, b) => a + b,
  '-': (a, b) => a - b,
  x: (a, b) => a * b,
  X: (a, b) => a * b,
  '/': (a, b) => a / b,
};

/** Deeper brackets than this are no macro anybody wrote. */
const MAX_DEPTH = 64;

/** Longer ones were not written by any program, and each of their terms lies in the one before. */
const LONGEST = 10_000;

/**
 * Reads an expression: numbers, `$n`, `+ - x X /`, signs, brackets. Variables that were never set are 0.
 *
 * @throws {SyntaxError} with the text that could not be read
 */
function parseExpression(text: string): MacroExpression {
  const plain = /^[+-]?(?:\d+\.?\d*|\.\d+)$/.test(text);
  if (plain) {
    const value = Number(text);
    return () => value;
  }
  if (text.length > LONGEST) throw new SyntaxError(`an expression of ${text.length} letters is too long`);
  let at = 0;
  const peek = (): string => text[at] ?? '';

  /** Parts between operators of a kind, worked out from the left. */
  const chain =
    (part: (depth: number) => MacroExpression, operators: string) =>
    (depth: number): MacroExpression => {
      let left = part(depth);
      while (peek() !== '' && operators.includes(peek())) {
        const work = OPERATORS[text[at++]];
        const [a, b] = [left, part(depth)];
        left = (v) => work(a(v), b(v));
      }
      return left;
    };
  const factor = (depth: number): MacroExpression => {
    if (depth > MAX_DEPTH) throw new SyntaxError('brackets nested too deeply');
    const c = peek();
    if (c === '+' || c === '-') {
      at += 1;
      const inner = factor(depth + 1);
      return c === '-' ? (v) => -inner(v) : inner;
    }
    if (c === '(') {
      at += 1;
      const inner = sum(depth + 1);
      if (peek() !== ')') throw new SyntaxError(`a closing bracket is missing in "${text}"`);
      at += 1;
      return inner;
    }
    const token = /^(?:\$(\d+)|(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)/i.exec(text.slice(at));
    if (!token) throw new SyntaxError(`"${text}" can't be read at "${text.slice(at) || 'its end'}"`);
    at += token[0].length;
    if (token[1] !== undefined) {
      const index = Number(token[1]);
      return (v) => v.get(index) ?? 0;
    }
    const value = Number(token[0]);
    return () => value;
  };

  const sum = chain(chain(factor, 'xX/'), '+-');
  const expression = sum(0);
  if (at < text.length) throw new SyntaxError(`"${text}" can't be read from "${text.slice(at)}" on`);
  return expression;
}

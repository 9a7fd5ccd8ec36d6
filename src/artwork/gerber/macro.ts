import type { Diagnostics } from '../paint/diagnostics.js';
import { type Command, shorten } from './lex.js';
import { type MacroExpression, parseExpression } from './macro-expression.js';

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
    // A comment is "0 words"; its text may be anything.
    if (text === '' || /^0(?![\d.])/.test(word.text.trim())) continue;
    try {
      const step = parseStep(text, word.line);
      if (step) steps.push(step);
      else {
        notes.fail(
          'MACRO_PRIMITIVE',
          word.line,
          `macro "${name}": "${shorten(text)}" is neither a primitive nor a variable.`,
          'Use the primitives 1, 20, 21, 4, 5 and 7.',
        );
      }
    } catch (error) {
      if (!(error instanceof SyntaxError)) throw error;
      notes.fail('MACRO_EXPRESSION', word.line, `macro "${name}": ${shortMessage(error)}.`, 'Export the file again.');
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

import { InputError } from '../errors.js';
import { formulaReader } from '../formula.js';
import type { Point } from '../geometry/types.js';
import type { Expression } from './pattern.js';
import type { CouponSheet } from './sheet.js';

/** What an element of a pattern is laid out with. */
export type Laying = ReturnType<typeof layingOn>;

/**
 * @param prefix - first letters of the ids of features
 * @param key - the element's place in the pattern, for messages
 */
export function layingOn(sheet: CouponSheet, prefix: string, key: string, evaluator: Evaluator, scope: PatternValues) {
  /** Kept free all round by blocks, mm. */
  const marginMm = scope.margin ?? sheet.clearanceMm;
  /** Works out an expression of the element, which stands in it under a name; `more` are further names that it may use. */
  const number = (expression: Expression, name: string, more: PatternValues = {}): number =>
    evaluator.number(expression, { ...scope, ...more }, `${key}.${name}`);
  return { sheet, prefix, key, marginMm, number };
}

/** How large a block may be at the most, mm. */
export const roomOf = ({ sheet: { grid }, marginMm }: Laying): { widthMm: number; heightMm: number } => ({
  widthMm: grid.mm('x', grid.columns) - 2 * marginMm,
  heightMm: grid.mm('y', grid.rows) - 2 * marginMm,
});

/**
 * Lower left corner of a block in the room that it leaves free on the canvas: place 0 is left or bottom, 1 right or top.
 *
 * @throws {InputError} BED_TOO_SMALL with the size that the block needs
 */
export function placeBlock(
  on: Laying,
  place: readonly [Expression, Expression],
  block: { widthMm: number; heightMm: number },
  orFewer = '',
): Point {
  const { key, marginMm, number } = on;
  const room = roomOf(on);
  const free = [room.widthMm - block.widthMm, room.heightMm - block.heightMm];
  if (free[0] < 0 || free[1] < 0) {
    const size = ({ widthMm, heightMm }: typeof room) => [widthMm + 2 * marginMm, heightMm + 2 * marginMm];
    throw new InputError({
      code: 'BED_TOO_SMALL',
      place: { key },
      message: `a block of ${size(block)
        .map((mm) => mm.toFixed(1))
        .join(' x ')} mm does not fit on ${size(room)
        .map((mm) => Number(mm.toFixed(6)))
        .join(' x ')} mm.`,
      hint: `Use a larger bed or film${orFewer}.`,
    });
  }
  const at = place.map((part, i) => marginMm + free[i] * number(part, `place.${i}`));
  return [at[0], at[1]];
}

/** Values that an expression may use by name. */
export type PatternValues = Readonly<Record<string, number>>;

/** Evaluates expressions of a pattern; `key` names the place in the pattern, for messages. */
export type Evaluator = Awaited<ReturnType<typeof expressionEvaluator>>;

/** Units by name: 12.2 mil is 12.2 times this many mm. Inch = 25.4 mm exactly. */
const UNITS: PatternValues = { mm: 1, cm: 10, um: 0.001, mil: 0.0254, inch: 25.4 };

/**
 * Works out formulas of a pattern.
 *
 * @throws {InputError} by the evaluator: BAD_EXPRESSION with the key
 */
export async function expressionEvaluator() {
  const read = await formulaReader();
  const evaluate = (text: string, scope: PatternValues, key: string): number | boolean | undefined => {
    const known = { ...scope, ...UNITS };
    return read(text, Object.keys(known), { key }).evaluate(known);
  };
  const problem = (key: string, message: string, hint: string): InputError =>
    new InputError({ code: 'BAD_EXPRESSION', place: { key }, message, hint });
  return {
    number(expression: Expression, scope: PatternValues, key: string): number {
      const value = typeof expression === 'number' ? expression : evaluate(expression, scope, key);
      if (typeof value === 'number' && Number.isFinite(value)) return value;
      throw problem(key, `"${expression}" is not a number (${String(value)}).`, 'Check its names and divisions.');
    },
    condition(expression: string | undefined, scope: PatternValues, key: string): boolean {
      if (expression === undefined) return true;
      const value = evaluate(expression, scope, key);
      if (typeof value === 'boolean') return value;
      const hint = 'Compare two values, for example "height >= 250".';
      throw problem(key, `"${expression}" is neither true nor false.`, hint);
    },
  };
}

import { InputError } from '../errors.js';
import type { Point } from '../geometry/types.js';
import type { Evaluator, Scope } from './expression.js';
import type { Expression } from './pattern.js';
import type { CouponSheet } from './sheet.js';

/**
 * Lower left corner of a block in the room that it leaves free on the canvas: place 0 is left or bottom, 1 right or top.
 * `margin` in the scope is kept free all round.
 *
 * @throws {InputError} BED_TOO_SMALL with the size that the block needs
 */
export function placeBlock(
  sheet: CouponSheet,
  place: readonly [Expression, Expression],
  block: { widthMm: number; heightMm: number },
  evaluator: Evaluator,
  scope: Scope,
  key: string,
): Point {
  const { grid } = sheet;
  const margin = scope.margin ?? sheet.clearanceMm;
  const canvas = [grid.mm('x', grid.columns), grid.mm('y', grid.rows)];
  const free = [canvas[0] - 2 * margin - block.widthMm, canvas[1] - 2 * margin - block.heightMm];
  if (free[0] < 0 || free[1] < 0) {
    throw new InputError({
      code: 'BED_TOO_SMALL',
      place: { key },
      message: `a block of ${(block.widthMm + 2 * margin).toFixed(1)} x ${(block.heightMm + 2 * margin).toFixed(1)} mm does not fit on ${canvas[0]} x ${canvas[1]} mm.`,
      hint: 'Use a larger bed or film.',
    });
  }
  const at = place.map((part, i) => margin + free[i] * evaluator.number(part, scope, `${key}.place.${i}`));
  return [at[0], at[1]];
}

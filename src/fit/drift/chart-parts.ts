import { InputError } from '../../errors.js';

/** What every chart holds. Numbers of points count from 1. */
export interface ControlChart {
  readonly kind: 'individuals' | 'ewma' | 'sd';
  /** The plotted values, one per observation. */
  readonly points: readonly number[];
  readonly centre: number;
  /** One per point. */
  readonly upperLimits: readonly number[];
  readonly lowerLimits: readonly number[];
  readonly outside: readonly number[];
}

/** Points with limits at these reaches about the centre, and which lie outside. */
export function chartOf(points: readonly number[], centre: number, reaches: readonly number[]) {
  const upperLimits = reaches.map((reach) => centre + reach);
  const lowerLimits = reaches.map((reach) => centre - reach);
  const outside = points
    .map((_, i) => i + 1)
    .filter((n) => points[n - 1] > upperLimits[n - 1] || points[n - 1] < lowerLimits[n - 1]);
  return { points: [...points], centre, upperLimits, lowerLimits, outside };
}

export function chartProblem(code: string, message: string, hint: string): InputError {
  return new InputError({ code, message, hint });
}

/** @throws {InputError} TOO_FEW_VALUES, NOT_FINITE */
export function requireValues(values: readonly number[], least: number): void {
  if (values.length < least) {
    throw chartProblem(
      'TOO_FEW_VALUES',
      `expected at least ${least} values, found ${values.length}.`,
      'Wait for more readings.',
    );
  }
  const bad = values.findIndex((value) => !Number.isFinite(value));
  if (bad >= 0)
    throw chartProblem('NOT_FINITE', `expected finite numbers, value ${bad + 1} is ${values[bad]}.`, 'Correct it.');
}

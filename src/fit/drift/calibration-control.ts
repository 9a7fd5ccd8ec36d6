import { InputError } from '../../errors.js';
import { studentQuantile } from '../statistics/student-t.js';

/** A calibration line y = a + b·x with what its fit says about the scatter. */
export interface CalibrationLine {
  readonly a: number;
  readonly b: number;
  readonly residualSd: number;
  readonly dof: number;
  /** Of a and b, 2 × 2; for the uncertainty of corrected values only. */
  readonly covariance?: readonly (readonly number[])[];
}

/** A later reading of something known. */
export interface CheckReading {
  /** Known value. */
  readonly x: number;
  /** As read. */
  readonly y: number;
  /** Readings taken together, for example one day's. */
  readonly group: string | number;
}

export interface CalibrationControl {
  /** (y − a)/b − x, one per reading: how far the corrected reading is off. */
  readonly controlValues: readonly number[];
  /** Their standard deviation about their mean, divisor n − 1. */
  readonly sdOfControlValues: number;
  /** ± limit for every control value. */
  readonly upperLimit: number;
  readonly lowerLimit: number;
  readonly tFactor: number;
  /** Share of alpha that falls to one side of one reading: ½ (1 − (1 − alpha)^(1/m)). */
  readonly zeta: number;
  /** Numbers (from 1) of the readings outside. */
  readonly outside: readonly number[];
  /** Groups with at least one reading outside, in order. */
  readonly groupsOutside: readonly (string | number)[];
}

/**
 * Control of a linear calibration by readings of known values: is it still good?
 *
 * @param options.alpha - chance of a false alarm per group, default 0.05
 * @param options.readingsPerGroup - m, default the largest group
 * @throws {InputError} TOO_FEW_VALUES, SLOPE_ZERO, NO_DEGREES_OF_FREEDOM
 * @remarks Limits ± residualSd · t / b, t at upper zeta with the line's degrees of freedom.
 *   Source: NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.7 and 2.3.7.1.
 */
export function calibrationControl(
  line: CalibrationLine,
  checks: readonly CheckReading[],
  options: { readonly alpha?: number; readonly readingsPerGroup?: number } = {},
): CalibrationControl {
  if (checks.length === 0)
    throw problem('TOO_FEW_VALUES', 'expected at least one check reading, found none.', 'Read a known length.');
  if (line.b === 0) throw problem('SLOPE_ZERO', 'a calibration line of slope 0 says nothing.', 'Fit it again.');
  if (!(line.dof > 0))
    throw problem(
      'NO_DEGREES_OF_FREEDOM',
      'the line has no degrees of freedom, so no limits.',
      'Fit it to more readings.',
    );
  const sizes = new Map<string | number, number>();
  for (const { group } of checks) sizes.set(group, (sizes.get(group) ?? 0) + 1);
  const perGroup = options.readingsPerGroup ?? Math.max(...sizes.values());
  // −expm1(ln(1 − alpha)/m) is 1 − (1 − alpha)^(1/m) without losing digits.
  const zeta = -0.5 * Math.expm1(Math.log1p(-(options.alpha ?? 0.05)) / perGroup);
  const tFactor = studentQuantile(2 * zeta, line.dof);
  const upperLimit = Math.abs((line.residualSd * tFactor) / line.b);
  const controlValues = checks.map(({ x, y }) => (y - line.a) / line.b - x);
  const outside = controlValues.map((_, i) => i + 1).filter((n) => Math.abs(controlValues[n - 1]) > upperLimit);
  return {
    controlValues,
    sdOfControlValues: standardDeviation(controlValues),
    upperLimit,
    lowerLimit: -upperLimit,
    tFactor,
    zeta,
    outside,
    groupsOutside: [...new Set(outside.map((n) => checks[n - 1].group))],
  };
}

/**
 * A reading corrected by the calibration line, with its standard uncertainty from the reading's scatter and the line's.
 *
 * @param line - with its covariance
 * @param sdOfReading - standard deviation of y; default the line's residual standard deviation
 * @throws {InputError} SLOPE_ZERO, NO_COVARIANCE
 * @remarks x = (y − a)/b; u² = (s/b)² + (sa/b)² + ((y − a)/b²)² sb² + 2 (y − a)/b³ sab.
 *   Source: NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.6.7.3.
 */
export function calibratedValue(
  line: CalibrationLine,
  y: number,
  sdOfReading = line.residualSd,
): { value: number; stdUncertainty: number } {
  if (line.b === 0) throw problem('SLOPE_ZERO', 'a calibration line of slope 0 says nothing.', 'Fit it again.');
  if (!line.covariance)
    throw problem('NO_COVARIANCE', 'the line comes without covariance.', 'Give the fit’s covariance.');
  const [[aa, ab], [, bb]] = line.covariance;
  const { a, b } = line;
  const variance = (sdOfReading ** 2 + aa + ((y - a) / b) ** 2 * bb + (2 * (y - a) * ab) / b) / b ** 2;
  return { value: (y - a) / b, stdUncertainty: Math.sqrt(variance) };
}

function standardDeviation(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1));
}

function problem(code: string, message: string, hint: string): InputError {
  return new InputError({ code, message, hint });
}

import { PARAMETER_NAMES, type ParameterName, type ProfileFit } from '../../machine/types.js';
import { predictLength } from '../calibration/length-model.js';
import type { Observation } from '../calibration/observations.js';
import { weightedQr } from '../linear/weighted-qr.js';

/** How far one number of the machine lies from what the profile says, by some readings alone. */
export interface Shift {
  readonly parameter: ParameterName;
  readonly shift: number;
  /** Variance from the readings' own scatter. */
  readonly ownVariance: number;
  /** Variance of what the profile says, as far as it bears on the shift. */
  readonly profileVariance: number;
}

export interface Shifts {
  readonly shifts: readonly Shift[];
  /** Sum of (residual about the profile / standard deviation)², and how many there are. */
  readonly about: { readonly sum: number; readonly count: number };
  /** The same once the shifts are taken out. */
  readonly within: { readonly sum: number; readonly dof: number };
}

/** A shift less sure than this is no evidence of anything: a ratio (1 mm on 100 mm), or mm of kerf. */
export const uselessFor = (parameter: ParameterName): number => (parameter.startsWith('kerf') ? 0.05 : 0.01);
/** Numbers that can hardly be told apart are looked at one at a time. */
const LEAST_LEFT = 0.2;

/**
 * Shifts of the machine's numbers against a profile: the residuals of readings about its prediction, projected onto
 * what each number does to them. All numbers together where the readings can tell them apart, else each as if it alone
 * had moved, so that even a single reading says something.
 *
 * @param sdMm - standard deviation of each reading, mm
 */
export function shiftsOf(lengths: readonly Observation[], sdMm: readonly number[], fit: ProfileFit): Shifts {
  const parameters = parameterValues(fit);
  const columns = PARAMETER_NAMES.map(() => new Float64Array(lengths.length));
  const residuals = new Float64Array(lengths.length);
  const weights = Float64Array.from(sdMm, (sd) => 1 / sd ** 2);
  const gradient = new Float64Array(5);
  lengths.forEach((length, i) => {
    residuals[i] = length.valueMm - predictLength(length, parameters, gradient);
    columns.forEach((column, k) => {
      column[i] = gradient[k];
    });
  });
  const dot = (a: Float64Array, b: Float64Array): number => a.reduce((sum, x, i) => sum + x * b[i] * weights[i], 0);
  const determined = [...PARAMETER_NAMES.keys()].filter((k) => {
    const information = dot(columns[k], columns[k]);
    const name = PARAMETER_NAMES[k];
    return !fit[name].assumed && information > 1 / uselessFor(name) ** 2;
  });
  const sum = dot(residuals, residuals);
  const about = { sum, count: lengths.length };
  const ofProfile = (row: readonly number[]): number =>
    row.reduce((total, a, j) => total + row.reduce((part, b, l) => (a * b === 0 ? part : part + a * b * covarianceOf(fit, j, l)), 0), 0); // biome-ignore format: one sum
  const joint =
    determined.length > 1 && lengths.length >= determined.length
      ? weightedQr(
          determined.map((k) => columns[k]),
          residuals,
          weights,
        )
      : undefined;
  if (joint && joint.leastLeft > LEAST_LEFT) {
    const shifts = determined.map((k, a) => ({
      parameter: PARAMETER_NAMES[k],
      shift: joint.solution[a],
      ownVariance: joint.inverse[a][a],
      profileVariance: ofProfile(PARAMETER_NAMES.map((_, j) => (j === k ? 1 : 0))),
    }));
    const explained = determined.reduce((total, k, a) => total + joint.solution[a] * dot(columns[k], residuals), 0);
    return { shifts, about, within: { sum: Math.max(0, sum - explained), dof: lengths.length - determined.length } };
  }
  const shifts = determined.map((k) => {
    const information = dot(columns[k], columns[k]);
    return {
      parameter: PARAMETER_NAMES[k],
      shift: dot(columns[k], residuals) / information,
      ownVariance: 1 / information,
      profileVariance: ofProfile(columns.map((column) => dot(columns[k], column) / information)),
    };
  });
  return { shifts, about, within: { sum: 0, dof: 0 } };
}

export function parameterValues(fit: ProfileFit): number[] {
  return PARAMETER_NAMES.map((name) => fit[name].value);
}

/** A profile written by hand states uncertainties at most. */
function covarianceOf(fit: ProfileFit, j: number, k: number): number {
  if (fit[PARAMETER_NAMES[j]].assumed || fit[PARAMETER_NAMES[k]].assumed) return 0;
  const stated = fit.covariance[j]?.[k] ?? 0;
  return stated !== 0 || j !== k ? stated : fit[PARAMETER_NAMES[j]].stdUncertainty ** 2;
}

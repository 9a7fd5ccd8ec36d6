import { fitVariance } from '../../machine/place-field.js';
import {
  byParameter,
  type Measured,
  PARAMETER_NAMES,
  type ParameterName,
  type ProfileFit,
} from '../../machine/types.js';
import { studentQuantile } from '../statistics/distributions.js';

/** An answer before it is put into the form of a profile. */
export interface Answer {
  readonly modelName: string;
  readonly parameters: readonly number[];
  readonly assumed: readonly boolean[];
  readonly covariance: readonly (readonly number[])[];
  readonly parameterDof: readonly number[];
  readonly residualSdMm: number;
  readonly dof: number;
  /** 95 % intervals where they don't follow from the standard uncertainty and Student's t. */
  readonly intervals?: readonly (readonly [number, number])[];
}

export interface ParameterResult {
  readonly name: ParameterName;
  readonly value: number;
  readonly stdUncertainty: number;
  readonly dof: number;
  /** Infinite on both sides for an assumed one. */
  readonly interval95: readonly [number, number];
  /** The readings can't tell it. */
  readonly assumed: boolean;
}

/** Each parameter with its 95 % interval by Student's t. A kerf is never below zero. */
export function parameterResults(answer: Answer): ParameterResult[] {
  return PARAMETER_NAMES.map((name, k) => {
    const estimate = answer.parameters[k];
    const assumed = answer.assumed[k];
    const stdUncertainty = assumed ? Number.POSITIVE_INFINITY : Math.sqrt(Math.max(0, answer.covariance[k][k]));
    const dof = assumed ? 0 : answer.parameterDof[k];
    const half = stdUncertainty * studentQuantile(0.05, Math.max(1, dof));
    const value = name.startsWith('kerf') && !assumed ? Math.max(0, estimate) : estimate;
    const own = assumed ? undefined : answer.intervals?.[k];
    return { name, value, stdUncertainty, dof, interval95: own ?? [estimate - half, estimate + half], assumed };
  });
}

export function profileFit(answer: Answer, warnings: readonly string[]): ProfileFit {
  const results = parameterResults(answer);
  return {
    ...byParameter((_, k): Measured => {
      const { value, stdUncertainty, interval95, assumed } = results[k];
      return assumed ? { value, stdUncertainty, assumed } : { value, stdUncertainty, interval95 };
    }),
    model: answer.modelName,
    covariance: PARAMETER_NAMES.map((_, j) =>
      PARAMETER_NAMES.map((__, k) => {
        if (!answer.assumed[j] && !answer.assumed[k]) return answer.covariance[j][k];
        return j === k ? Number.POSITIVE_INFINITY : 0;
      }),
    ),
    residualSdMm: answer.residualSdMm,
    dof: answer.dof,
    warnings,
  };
}

/** Of the five; 0 for assumed ones. */
export function correlationsOf({ covariance, assumed }: Answer): number[][] {
  return PARAMETER_NAMES.map((_, i) =>
    PARAMETER_NAMES.map((__, j) => {
      if (assumed[i] || assumed[j]) return 0;
      const value = covariance[i][j];
      const scale = Math.sqrt(covariance[i][i] * covariance[j][j]);
      return scale > 0 ? value / scale : 0;
    }),
  );
}

/**
 * An opening designed `widthMm` wide and corrected with this profile comes out `widthMm` ± U: the law of propagation
 * for w = scale·c + kerf, with the covariance of scale and kerf. It is the uncertainty of the machine's mean; a single
 * cut scatters about it.
 *
 * @param axis - the one across which the width is measured
 * @returns stdUncertaintyMm: infinite where scale or kerf of the axis was not measured; expandedUncertaintyMm: half-width of
 *   the 95 % interval
 * Source: JCGM 100:2008 (GUM), 5.2.2 equation (13), and G.3 for the factor.
 * @example openingUncertainty(profile.fit, 0.3, 'x')
 */
export function openingUncertainty(fit: ProfileFit, widthMm: number, axis: 'x' | 'y') {
  const [scale, kerf] = axis === 'x' ? [fit.scaleX, fit.kerfXMm] : [fit.scaleY, fit.kerfYMm];
  const commandedMm = Math.max(0, widthMm - kerf.value) / scale.value;
  const gradient = axis === 'x' ? [commandedMm, 0, 0, 1, 0] : [0, commandedMm, 0, 0, 1];
  return uncertaintyOf(fit, gradient, widthMm, axis);
}

/**
 * Two pads `distanceMm` apart along an axis come out that far ± U, corrected with this profile.
 *
 * @param acrossMm - how far apart they lie across that axis: along X they lean by as much as the shear is off
 */
export function distanceUncertainty(fit: ProfileFit, distanceMm: number, axis: 'x' | 'y', acrossMm = 0) {
  const along = distanceMm / (axis === 'x' ? fit.scaleX.value : fit.scaleY.value);
  const gradient = axis === 'x' ? [along, 0, acrossMm / fit.scaleY.value, 0, 0] : [0, along, 0, 0, 0];
  return uncertaintyOf(fit, gradient, distanceMm, axis);
}

function uncertaintyOf(fit: ProfileFit, gradient: readonly number[], widthMm: number, axis: 'x' | 'y') {
  const stdUncertaintyMm = Math.sqrt(fitVariance(fit, gradient));
  // Each number has a factor of its own, by the gauge that tells it: weighed by what it has in the variance.
  let [weighed, total] = [0, 0];
  PARAMETER_NAMES.forEach((name, k) => {
    const own = gradient[k] ** 2 * fit[name].stdUncertainty ** 2;
    if (!(own > 0)) return;
    weighed += own * (expanded(fit[name], fit.dof) / fit[name].stdUncertainty);
    total += own;
  });
  const factor = Number.isFinite(stdUncertaintyMm) && total > 0 ? weighed / total : 1;
  return { widthMm, axis, stdUncertaintyMm, expandedUncertaintyMm: factor * stdUncertaintyMm };
}

/** An interval so many times as wide about its value. */
export const stretched = ([low, high]: readonly [number, number], value: number, by: number): [number, number] => [
  value - by * (value - low),
  value + by * (high - value),
];

/** Half-width of the 95 % interval; the standard uncertainty times Student's t when the interval isn't kept. */
export function expanded({ assumed, interval95, stdUncertainty }: Measured, dof: number): number {
  if (assumed) return Number.POSITIVE_INFINITY;
  if (interval95) return (interval95[1] - interval95[0]) / 2;
  return stdUncertainty * studentQuantile(0.05, dof >= 1 ? dof : Number.POSITIVE_INFINITY);
}

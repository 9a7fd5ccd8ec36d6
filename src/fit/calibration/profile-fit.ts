import {
  byParameter,
  type Measured,
  PARAMETER_NAMES,
  type ParameterName,
  type ProfileFit,
} from '../../machine/types.js';
import { studentQuantile } from '../statistics/student-t.js';

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
    const isKerf = name.startsWith('kerf');
    if (answer.assumed[k]) {
      return {
        name,
        value: estimate,
        stdUncertainty: Number.POSITIVE_INFINITY,
        dof: 0,
        interval95: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY],
        assumed: true,
      };
    }
    const stdUncertainty = Math.sqrt(Math.max(0, answer.covariance[k][k]));
    const dof = answer.parameterDof[k];
    const half = stdUncertainty * studentQuantile(0.05, Math.max(1, dof));
    const value = isKerf ? Math.max(0, estimate) : estimate;
    const interval95 = answer.intervals?.[k] ?? ([estimate - half, estimate + half] as const);
    return { name, value, stdUncertainty, dof, interval95, assumed: false };
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

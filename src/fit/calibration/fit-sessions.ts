import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { InputError, type Warning } from '../../errors.js';
import { type Measured, PARAMETER_NAMES, type ProfileFit, type ReadingSession } from '../../profile/types.js';
import type { Reading } from '../../readings/types.js';
import { studentQuantile } from '../statistics/student-t.js';
import { chooseModel, startParameters } from './choose-model.js';
import { predictLength } from './length-model.js';
import { gatherObservations, type Observation } from './observations.js';
import type { WeightedFit } from './weighted-fit.js';

export interface CalibrationOptions {
  /** Resolution of the gauge for readings that state none, mm. Not given: told from the readings' last digits. */
  readonly resolutionMm?: number;
  /** Ids of features whose readings are left out. */
  readonly drop?: readonly string[];
}

/** What is left of one reading once the machine's model is taken away. */
export interface ReadingResidual {
  readonly session: number;
  /** Place of the reading in its session, from 0. */
  readonly index: number;
  readonly feature: string;
  readonly kind: 'span' | 'opening' | 'web' | 'vernier';
  readonly line?: number;
  readonly nominalMm: number;
  readonly readingMm: number;
  readonly predictedMm: number;
  readonly residualMm: number;
  /** Residual over its standard deviation, this reading left out. */
  readonly studentised: number;
  readonly weight: number;
}

export interface CalibrationResult {
  readonly fit: ProfileFit;
  readonly residuals: readonly ReadingResidual[];
  /** Readings that were left out because they were told to be. */
  readonly dropped: readonly { readonly session: number; readonly index: number; readonly feature: string }[];
  /** Why the iteration stopped, in plain words. */
  readonly stopped: string;
  readonly iterations: number;
  /** Degrees of freedom behind each parameter's uncertainty, in the order of PARAMETER_NAMES. */
  readonly parameterDof: readonly number[];
  readonly warnings: readonly Warning[];
}

/**
 * Fits the machine's model to the readings of one coupon.
 *
 * @param readings - from `parseReadings`, or made by hand; mm
 * @param features - of the coupon: the list, or the whole features file
 * @see fitSessions
 */
export function fitCalibration(
  readings: readonly Reading[],
  features: readonly Feature[] | FeaturesFile,
  options: CalibrationOptions = {},
): CalibrationResult {
  const file = 'features' in features ? features : undefined;
  const session: ReadingSession = {
    coupon: file?.coupon ?? 'coupon',
    ...(file ? { canvas: file.canvas } : {}),
    features: file ? file.features : (features as readonly Feature[]),
    readings,
  };
  return fitSessions([session], options);
}

/**
 * Fits scaleX, scaleY, shear, kerfX and kerfY to all readings together by weighted least squares (Gauss-Newton on QR,
 * never an inverted normal matrix). When the readings can't tell all five, the largest smaller model that they can
 * tell is fitted and named.
 *
 * @param sessions - readings with the features of their coupon; feature ids need to be unique within a session only
 * @returns the five numbers with their uncertainty, and what is left of every reading
 * @throws {InputError} UNKNOWN_FEATURE, OUTCOME_NOT_FOR_KIND, READING_MISSING, NO_LENGTHS
 */
export function fitSessions(sessions: readonly ReadingSession[], options: CalibrationOptions = {}): CalibrationResult {
  const all = gatherObservations(sessions, options.resolutionMm);
  const drop = new Set(options.drop ?? []);
  const lengths = all.lengths.filter(({ feature }) => !drop.has(feature.id));
  const dropped = all.lengths
    .filter(({ feature }) => drop.has(feature.id))
    .map(({ session, index, feature }) => ({ session, index, feature: feature.id }));
  const chosen = lengths.length > 0 ? chooseModel(lengths, startParameters(lengths)) : undefined;
  if (!chosen) {
    throw new InputError({
      code: 'NO_LENGTHS',
      message: `${lengths.length} readings of lengths are too few to fit anything.`,
      hint: 'Measure at least two spans along X and two along Y, and some openings and webs.',
    });
  }
  const warnings: Warning[] = [];
  return {
    fit: profileFit(chosen, warnings),
    residuals: residualsOf(lengths, chosen),
    dropped,
    stopped: chosen.solved.stopped,
    iterations: chosen.solved.iterations,
    parameterDof: chosen.parameterDof,
    warnings,
  };
}

function profileFit(chosen: WeightedFit, warnings: Warning[]): ProfileFit {
  const { parameters, residuals } = chosen.solved;
  const measured = PARAMETER_NAMES.map((name, k): Measured => {
    if (typeof chosen.model.follows[k] !== 'number') return { value: parameters[k], stdUncertainty: 0, assumed: true };
    const isKerf = name.startsWith('kerf');
    const value = isKerf ? Math.max(0, parameters[k]) : parameters[k];
    const stdUncertainty = Math.sqrt(chosen.covariance[k][k]);
    const half = stdUncertainty * studentQuantile(0.05, Math.max(1, chosen.parameterDof[k]));
    return { value, stdUncertainty, interval95: [parameters[k] - half, parameters[k] + half] };
  });
  const sum = residuals.reduce((total, e) => total + e * e, 0);
  const [scaleX, scaleY, shear, kerfXMm, kerfYMm] = measured;
  return {
    scaleX,
    scaleY,
    shear,
    kerfXMm,
    kerfYMm,
    model: chosen.model.name,
    covariance: chosen.covariance,
    residualSdMm: chosen.dof > 0 ? Math.sqrt(sum / chosen.dof) : 0,
    dof: chosen.dof,
    warnings: warnings.map(({ message }) => message),
  };
}

function residualsOf(lengths: readonly Observation[], { solved, weights, dof }: WeightedFit): ReadingResidual[] {
  return lengths.map((length, i) => {
    const predictedMm = predictLength(length, solved.parameters);
    const residualMm = length.valueMm - predictedMm;
    const t = (residualMm * Math.sqrt(weights[i])) / Math.sqrt(Math.max(1e-12, 1 - solved.qr.leverages[i]));
    return {
      session: length.session,
      index: length.index,
      feature: length.feature.id,
      kind: length.kind,
      ...(length.reading.line === undefined ? {} : { line: length.reading.line }),
      nominalMm: length.nominalMm,
      readingMm: length.valueMm,
      predictedMm,
      residualMm,
      studentised: t * Math.sqrt(Math.max(0, dof - 1) / Math.max(1e-9, dof - t * t)),
      weight: weights[i],
    };
  });
}

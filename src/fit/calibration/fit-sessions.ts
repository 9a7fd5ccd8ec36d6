import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { InputError, type Warning } from '../../errors.js';
import { PARAMETER_NAMES, type ReadingSession } from '../../machine/types.js';
import type { Reading } from '../../readings/types.js';
import { nearestName } from '../../schema/nearest.js';
import { chooseModel, startParameters } from './choose-model.js';
import { compareModels } from './compare-models.js';
import { eyeReadings } from './eye-only.js';
import { flagReadings } from './flag-readings.js';
import { withGaugeLimit } from './gauge-limit.js';
import { repeatsShareErrors } from './lack-of-fit.js';
import { predictLength } from './length-model.js';
import { readLimits } from './limits.js';
import type { CalibrationModel } from './models.js';
import { gatherObservations, type Observation, type Observations } from './observations.js';
import { findOutliers, type OutlierSearch } from './outliers.js';
import { type Answer, correlationsOf, parameterResults, profileFit } from './profile-fit.js';
import { lackOfFitOf, meansOfRepeats } from './repeats.js';
import { type RobustFit, robustFit } from './robust-fit.js';
import { coarseGauges, roundedAnswer } from './rounded-readings.js';
import { scaleHints } from './scale-hints.js';
import type { CalibrationOptions, CalibrationResult, ReadingResidual, RobustAnswer } from './types.js';
import { modelWarnings, parameterWarnings, untoldWarnings } from './warnings.js';
import { readingVariance, type WeightedFit, weightedFit } from './weighted-fit.js';

/**
 * Fits the machine's model to the readings of one coupon.
 *
 * @param readings - from `parseReadings`, or made by hand; mm
 * @param features - of the coupon: the list, or the whole features file
 * @returns see {@link fitSessions}; may be handed on wherever a profile is asked for
 * @throws {InputError} as {@link fitSessions}
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
 * Fits scaleX, scaleY, shear, kerfX and kerfY to all readings together: weighted least squares (Gauss-Newton on QR,
 * never an inverted normal matrix), each gauge weighted by its rounding and by the scatter found in its readings. When
 * the readings can't tell all five, the largest smaller model that they can tell is fitted and named. A parameter is
 * never left out because it is small: that would make the others wrong.
 *
 * @param sessions - readings with the features of their coupon; feature ids need to be unique within a session only
 * @returns the five numbers with standard uncertainty, degrees of freedom and 95 % interval (Student's t); what is left
 *   of every reading; readings that stand out, with the likely cause (none is left out unless `drop` names it); the
 *   robust answer beside the plain one; nested models compared; limits from webs and openings that failed
 * @throws {InputError} UNKNOWN_FEATURE, OUTCOME_NOT_FOR_KIND, READING_MISSING, NOT_FINITE, NO_LENGTHS, UNKNOWN_DROP
 * @example fitCalibration(readings, features).fit.kerfXMm // { value: 0.142, stdUncertainty: 0.001, … }
 */
export function fitSessions(sessions: readonly ReadingSession[], options: CalibrationOptions = {}): CalibrationResult {
  const all = gatherObservations(sessions, options.resolutionMm);
  const dropped = dropTest(options.drop ?? [], sessions);
  const kept: Observations = {
    ...all,
    lengths: all.lengths.filter((reading) => !dropped(reading)),
    eye: all.eye.filter((reading) => !dropped(reading)),
  };
  const start = startParameters(kept.lengths);
  const byEye = eyeReadings(kept, sessions, start[0]);
  const lengths = [...kept.lengths, ...byEye.lengths];
  const model = chooseModel(lengths, start);
  if (!model) throw noLengths(lengths.length);
  const robust = robustFit(model, lengths, start);
  const search = findOutliers(lengths, robust);
  const first = weightedFit(model, lengths, robust.parameters);
  const clean = search && search.outliers.length > 0 ? search.clean : first;
  const comparable = clean === first ? lengths : (search?.kept ?? []).map((i) => lengths[i]);
  const lack = lackOfFitOf(comparable, clean);
  const grouped = repeatsShareErrors(lack) ? weightedFit(model, meansOfRepeats(lengths), robust.parameters) : first;
  const plain = options.gaugeLimitMm ? withGaugeLimit(grouped, options.gaugeLimitMm) : grouped;
  const coarse = search && search.outliers.length > 0 ? [] : coarseGauges(grouped);
  const asFitted = grouped === first ? lengths : meansOfRepeats(lengths);
  const rounded = coarse.length > 0 && grouped.dof > 0 ? roundedAnswer(asFitted, grouped, coarse) : undefined;
  const least = plainAnswer(model, plain);
  const answer = options.robust ? robustAnswer(model, robust) : rounded ? { ...least, ...rounded } : least;
  const parameters = parameterResults(answer);
  const correlations = correlationsOf(answer.covariance);
  const basis = (of: readonly Observation[]) => ({
    model,
    parameters: clean.solved.parameters,
    weights: Float64Array.from(of, (length) => 1 / readingVariance(length.resolutionMm, clean)),
  });
  const models = compareModels(comparable, basis(comparable));
  const flagged = search ? flagReadings(lengths, search, kept.eye) : [];
  const warnings: Warning[] = [
    ...untoldWarnings(model),
    ...byEye.warnings,
    // Where readings stand out, a poor answer is their doing.
    ...(flagged.length === 0 || options.robust ? parameterWarnings(parameters, answer.parameters, correlations) : []),
    // Readings that stand out together may be a machine that bends: then a larger model explains them too.
    ...modelWarnings(flagged.length === 0 ? models : compareModels(lengths, basis(lengths))),
    ...scatterWarnings(answer, flagged.length, plain, options.robust === true),
    ...(repeatsShareErrors(lack) && lack
      ? [{ code: 'LACK_OF_FIT', message: `${lack.sentence} Each feature counts as one reading.` }]
      : []),
  ];
  const words = [...warnings.map(({ message }) => message), ...flagged.map(({ sentence }) => sentence)];
  const sound = clean.solved.parameters;
  const limits = readLimits(kept, sessions, sound);
  return {
    fit: profileFit(answer, words),
    ...(limits ? { limits } : {}),
    parameters,
    correlations,
    residuals: residualsOf(kept.lengths, answer.parameters, search, plain),
    flagged,
    dropped: all.lengths
      .filter(dropped)
      .map(({ session, index, feature }) => ({ session, index, feature: feature.id })),
    robust: describeRobust(model, robust, answer, lengths),
    models,
    ...(lack ? { lackOfFit: lack } : {}),
    scatter: plain.groups.map(({ resolutionMm, members }, g) => ({
      ...(resolutionMm === undefined ? {} : { resolutionMm }),
      readings: members.length,
      sdMm: Math.sqrt(plain.scatter.variances[g]),
    })),
    rowShifts: meanRowShifts(all.rowShifts),
    stopped: plain.solved.stopped,
    iterations: plain.solved.iterations,
    warnings,
    hints: scaleHints(sound[0], sound[1], sessions),
  };
}

/** Whether a reading is to be left out: by `id`, or by `coupon/id` where coupons share ids. */
function dropTest(
  ids: readonly string[],
  sessions: readonly ReadingSession[],
): (reading: Pick<Observation, 'session' | 'feature'>) => boolean {
  const known = sessions.flatMap(({ coupon, features }) => features.flatMap(({ id }) => [id, `${coupon}/${id}`]));
  const unknown = ids.filter((id) => !known.includes(id));
  if (unknown.length > 0) {
    throw new InputError(
      unknown.map((id) => {
        const nearest = nearestName(id, known);
        return {
          code: 'UNKNOWN_DROP',
          message: `no coupon has a feature "${id}" to drop.`,
          ...(nearest ? { hint: `Did you mean "${nearest}"?` } : {}),
        };
      }),
    );
  }
  const told = new Set(ids);
  return ({ session, feature }) => told.has(feature.id) || told.has(`${sessions[session].coupon}/${feature.id}`);
}

function noLengths(count: number): InputError {
  return new InputError({
    code: 'NO_LENGTHS',
    message: `${count === 0 ? 'there are no readings of lengths' : `${count} readings of lengths are too few`} to fit anything.`,
    hint: 'Measure spans along X, Y and both diagonals, and the widths of some openings and webs.',
  });
}

function plainAnswer(model: CalibrationModel, fit: WeightedFit): Answer {
  const { residuals, parameters } = fit.solved;
  const sum = residuals.reduce((total, e) => total + e * e, 0);
  return {
    modelName: model.name,
    parameters,
    assumed: model.follows.map((follow) => typeof follow !== 'number'),
    covariance: fit.covariance,
    parameterDof: fit.parameterDof,
    residualSdMm: fit.dof > 0 ? Math.sqrt(sum / fit.dof) : 0,
    dof: fit.dof,
  };
}

function robustAnswer(model: CalibrationModel, robust: RobustFit): Answer {
  const used = Array.from(robust.weights.keys()).filter((i) => robust.weights[i] > 0);
  const dof = used.length - model.freeNames.length;
  const sum = used.reduce((total, i) => total + robust.residuals[i] ** 2, 0);
  return {
    modelName: `${model.name}, robust`,
    parameters: robust.parameters,
    assumed: model.follows.map((follow) => typeof follow !== 'number'),
    covariance: robust.covariance,
    parameterDof: model.follows.map(() => dof),
    residualSdMm: dof > 0 ? Math.sqrt(sum / dof) : 0,
    dof,
  };
}

function describeRobust(
  model: CalibrationModel,
  robust: RobustFit,
  plain: Answer,
  lengths: readonly Observation[],
): RobustAnswer {
  const answer = robustAnswer(model, robust);
  return {
    fit: profileFit(answer, []),
    converged: robust.converged,
    iterations: robust.iterations,
    moves: PARAMETER_NAMES.map((name, k) => {
      const by = answer.parameters[k] - plain.parameters[k];
      const u = Math.sqrt(answer.covariance[k][k]);
      return { name, by, inUncertainties: u > 0 ? by / u : 0 };
    }),
    ignored: lengths
      .filter((_, i) => robust.weights[i] === 0)
      .map(({ session, index, feature }) => ({ session, index, feature: feature.id })),
  };
}

function scatterWarnings(answer: Answer, flagged: number, fit: WeightedFit, robust: boolean): Warning[] {
  const warnings: Warning[] = [];
  if (fit.dof <= 0) {
    warnings.push({
      code: 'NOTHING_LEFT_OVER',
      message: 'there are only as many readings as fitted numbers: uncertainties rest on the resolution alone.',
      hint: 'Read more features; a wrong reading can not be seen like this.',
    });
  } else if (fit.dof < 5) {
    warnings.push({
      code: 'FEW_READINGS',
      message: `there are only ${fit.dof} readings more than fitted numbers: a wrong one can hardly be seen.`,
      hint: 'Read more features.',
    });
  }
  if (flagged > 0 && !robust) {
    const words =
      flagged === 1 ? '1 reading stands out, and it counts' : `${flagged} readings stand out, and they count`;
    warnings.push({
      code: 'READINGS_STAND_OUT',
      message: `${words} in this answer (scatter ${(1000 * answer.residualSdMm).toFixed(1)} µm).`,
      hint: 'Correct the readings, leave them out by name (drop), or take the robust answer.',
    });
  }
  return warnings;
}

function residualsOf(
  lengths: readonly Observation[],
  parameters: readonly number[],
  search: OutlierSearch | undefined,
  fit: WeightedFit,
): ReadingResidual[] {
  return lengths.map((length, i) => {
    const predictedMm = predictLength(length, parameters);
    const residualMm = length.valueMm - predictedMm;
    const sdMm = Math.sqrt(readingVariance(length.resolutionMm, fit));
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
      studentised: search ? search.distance[i] : sdMm > 0 ? residualMm / sdMm : 0,
      sdMm,
    };
  });
}

function meanRowShifts(shifts: Observations['rowShifts']): CalibrationResult['rowShifts'] {
  return (['x', 'y'] as const).flatMap((axis) => {
    const own = shifts.filter((shift) => shift.axis === axis);
    if (own.length === 0) return [];
    const shiftMm = own.reduce((sum, shift) => sum + shift.shiftMm, 0) / own.length;
    return [{ axis, shiftMm, readings: own.length }];
  });
}

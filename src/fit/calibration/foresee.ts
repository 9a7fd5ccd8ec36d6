import { type DimensionalFeature, type Feature, isForJaws } from '../../coupon/features.js';
import { byParameter, PARAMETER_NAMES, type ParameterName, type ReadingSession } from '../../machine/types.js';
import type { Reading } from '../../readings/types.js';
import { studentQuantile } from '../statistics/distributions.js';
import { toldBy } from './design.js';
import { determinedBy } from './determined.js';
import { gaugesOf, lengthsReadIn } from './gauges.js';
import { gatherObservations, inferResolutionsMm, type Observation } from './observations.js';
import { LEAST_VARIANCE, roundingVariance } from './scatter.js';
import type { CalibrationOptions, CalibrationResult } from './types.js';

/** Steps of a careful reader's gauge, mm, where nothing like it was read before. */
const USUAL_STEP_MM = 0.01;

/**
 * Half-widths of the 95 % intervals that the fit would have with some more readings, if they scatter as those before
 * did: the same design (zeros and limits of the gauges, what is assumed), with rows more. Undefined: not told.
 *
 * @param next - features of the sessions, read once each, with the gauge that like lengths of the session were read with
 */
export function foreseen(
  sessions: readonly ReadingSession[],
  by: CalibrationResult,
  next: readonly DimensionalFeature[],
  { resolutionMm, gaugeLimitMm }: CalibrationOptions = {},
): Record<ParameterName, number | undefined> {
  const start = PARAMETER_NAMES.map((name) => by.fit[name].value);
  const sessionOf = (feature: Feature) => sessions.findLast(({ features }) => features.includes(feature));
  const all = sessions.map((session) => {
    const own = next.filter((feature) => sessionOf(feature) === session);
    if (own.length === 0) return session;
    const [read, steps] = [lengthsReadIn(session), inferResolutionsMm(session)];
    const stepMm = (gauge: string): number | undefined => resolutionMm ?? steps.get(gauge);
    return {
      ...session,
      readings: [...session.readings, ...own.map((feature) => asRead(feature, read, stepMm))],
    };
  });
  const { lengths } = gatherObservations(all, resolutionMm);
  const { design, assumed } = determinedBy(lengths, gaugesOf(lengths, all, gaugeLimitMm), start);
  const weights = Float64Array.from(lengths, (length) => 1 / varianceOf(length, by));
  const { inverse, leverages } = toldBy(design, weights, start);
  const dof = lengths.reduce((sum, _, i) => sum + 1 - leverages[i], 0);
  const t = studentQuantile(0.05, Math.max(1, dof));
  return byParameter((_, k) => (assumed[k] ? undefined : t * Math.sqrt(inverse[k][k])));
}

function asRead(
  feature: DimensionalFeature,
  read: ReturnType<typeof lengthsReadIn>,
  stepMm: (gauge: string) => number | undefined,
): Reading {
  const sort = (one: DimensionalFeature): string => (isForJaws(one) ? 'jaws' : one.kind === 'span' ? 'span' : 'width');
  const like = read.find((one) => sort(one.feature) === sort(feature));
  return {
    feature: feature.id,
    readingMm: feature.nominalMm,
    gauge: like?.named,
    // A designed length is no multiple of the gauge's step: left to be found from the readings, all would seem finer.
    resolutionMm: (like ? (like.resolutionMm ?? stepMm(like.gauge)) : USUAL_STEP_MM) || undefined,
    uncertaintyMm: like?.uncertaintyMm,
  };
}

function varianceOf({ gauge, resolutionMm }: Observation, { fit, scatter }: CalibrationResult): number {
  const group =
    scatter.find((one) => one.gauge === gauge && one.resolutionMm === resolutionMm) ??
    scatter.find((one) => one.gauge === gauge);
  const variance = group ? group.sdMm ** 2 + roundingVariance(resolutionMm) : fit.residualSdMm ** 2;
  return Math.max(variance, LEAST_VARIANCE);
}

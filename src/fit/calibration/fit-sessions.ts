import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { demand, refuseAll, type Warning } from '../../errors.js';
import { modelProblems } from '../../machine/machine-model.js';
import { PARAMETER_NAMES, type ReadingSession } from '../../machine/types.js';
import type { Reading } from '../../readings/types.js';
import { didYouMean } from '../../schema/nearest.js';
import { mean } from '../statistics/averages.js';
import { type EyeReadings, eyeReadings, processLimits } from './by-eye.js';
import { linearise, pick, startParameters } from './design.js';
import { type Determined, determinedBy, withFreeZero, withZeroOf } from './determined.js';
import { type FaultSearch, findFaults, foundTerms } from './faults.js';
import { gaugesOf } from './gauges.js';
import { impossibleReadings, refuseAnotherCoupon, refuseImpossible } from './gross-errors.js';
import { narrowWarnings, withoutNarrow } from './narrow-widths.js';
import { copyWarnings, gatherObservations, type Observation, type Observations } from './observations.js';
import { findOutliers, flagReadings } from './outliers.js';
import { type Answer, correlationsOf, parameterResults, profileFit, stretched } from './profile-fit.js';
import { anyDay, designOfMeans, lackOfFitOf, repeatsShareErrors } from './repeats.js';
import { coarseGauges, roundedAnswer } from './rounded-readings.js';
import type { CalibrationOptions, CalibrationResult, ReadingRef, ReadingResidual, RobustAnswer } from './types.js';
import {
  loneWarnings,
  modelName,
  parameterWarnings,
  scaleHints,
  scatterWarnings,
  undeterminedWarnings,
} from './warnings.js';
import { readingVariance, type WeightedFit, weightedFit } from './weighted-fit.js';
import { gaugeFindings } from './zeros.js';

/** A zero that lies within this is none, mm. */
const AS_NONE_MM = 1e-5;

/**
 * Fits the machine's model to the readings of one coupon.
 *
 * @param readings - from `parseReadings`, or made by hand; mm
 * @param features - of the coupon: the list, or the whole features file
 * @returns see {@link fitSessions}; may be handed on wherever a profile is asked for
 * @throws {InputError} as {@link fitSessions}
 * @example fitCalibration(readings, features).fit.kerfXMm.value // 0.12
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
 * never an inverted normal matrix), each gauge weighted by its rounding and by the scatter found in its readings, with
 * its zero fitted where the design tells it and its limit of error as a common error. Numbers that the readings can't
 * tell are `assumed`, with an infinite uncertainty. A number is never left out because it is small: that would make the
 * others wrong. Faults of the machine that the five numbers don't hold are looked for and named.
 *
 * @param sessions - readings with the features of their coupon; feature ids need to be unique within a session only
 * @returns the five numbers with standard uncertainty, degrees of freedom and 95 % interval (Student's t); what is left
 *   of every reading; readings that stand out, with the likely cause (none is left out unless `drop` names it); the
 *   answer without them beside the plain one; limits from webs and openings that failed
 * @throws {InputError} UNKNOWN_FEATURE, OUTCOME_NOT_FOR_KIND, READING_MISSING, NOT_FINITE, BAD_RESOLUTION, NO_LENGTHS,
 *   UNKNOWN_DROP, READING_IMPOSSIBLE, READ_WRONG_WAY_ROUND, READINGS_CONTRADICT, NOT_CONVERGED, BAD_PROFILE
 * @example fitSessions(sessions).fit.scaleX.value // 1.000
 */
export function fitSessions(sessions: readonly ReadingSession[], options: CalibrationOptions = {}): CalibrationResult {
  const all = gatherObservations(sessions, options.resolutionMm);
  const dropped = dropTest(options.drop ?? [], sessions);
  const counted = all.lengths.filter((reading) => !dropped(reading));
  const impossible = impossibleReadings(counted, sessions, options.robust === true);
  refuseAnotherCoupon(all.lengths, sessions);
  if (!options.robust) refuseImpossible(impossible, sessions);
  const isPossible = (reading: Observation): boolean =>
    !impossible.some(({ session, index }) => session === reading.session && index === reading.index);
  const kept = { ...all, lengths: counted.filter(isPossible), eye: all.eye.filter((reading) => !dropped(reading)) };
  const start = startParameters(kept.lengths);
  const byEye = eyeReadings(kept, sessions, start[0]);
  const { counted: wide, narrow: tooNarrow } = withoutNarrow(kept.lengths);
  const lengths = [...wide, ...byEye.lengths];
  const own = gaugesOf(wide, sessions, options.gaugeLimitMm);
  const gauges = options.sameGauges ? own.map((gauge) => ({ ...gauge, zeroWithinMm: AS_NONE_MM })) : own;
  const determined = determinedBy(lengths, gauges, start);
  demand(
    !determined.assumed.every(Boolean),
    'NO_LENGTHS',
    lengths.length > 0
      ? 'these readings of lengths tell no number by themselves.'
      : 'there are no readings of lengths to fit.',
    'Measure spans along X, Y and both diagonals, and the widths of some openings and webs.',
  );
  const { can, plain, search, faults } = lookFor(determined, start);
  const { clean } = search;
  const lackOfFit = lackOfFitOf(clean);
  const taken = options.robust ? clean : plain;
  const last = repeatsShareErrors(lackOfFit) ? weightedFit(designOfMeans(taken.design), start) : taken;
  const standOut = search.outliers.length > 0 && !options.robust;
  const narrow = answerOf(can, last, byEye, standOut);
  const answer = withPlaceDoubt(narrow, faults.placeDoubt);
  const parameters = parameterResults(answer);
  const flagged = [...impossible, ...flagReadings(lengths, search, kept.eye)];
  const { findings, warnings: gaugeWarnings } = gaugeFindings(gauges, can, last, answer);
  const warnings: Warning[] = [
    ...copyWarnings(sessions),
    ...undeterminedWarnings(can, answer.parameters),
    ...byEye.warnings,
    ...narrowWarnings(tooNarrow),
    ...gaugeWarnings,
    // Where readings stand out, an unsure answer is their doing; where places differ, no further reading would help.
    ...parameterWarnings(narrow, parameters).filter(({ code }) => !standOut || code === 'KERF_BELOW_ZERO'),
    ...faults.warnings,
    ...scatterWarnings(answer, search, options.robust === true),
    ...(answer.dof > 0 ? loneWarnings(taken, can.assumed) : []),
    ...(repeatsShareErrors(lackOfFit)
      ? [{ code: 'LACK_OF_FIT', message: `${lackOfFit.sentence} Each feature counts as one reading.` }]
      : []),
  ];
  const words = [...warnings.map(({ message }) => message), ...flagged.map(({ sentence }) => sentence)];
  const fit = profileFit(answer, words);
  refuseNoMachine(fit);
  return {
    fit,
    limits: processLimits(kept, sessions, clean.parameters, flagged, byEye.brackets),
    parameters,
    correlations: correlationsOf(answer),
    residuals: residualsOf(wide, { can, search }, answer),
    flagged,
    undecided: search.undecided,
    dropped: all.lengths.filter(dropped).map(refOf),
    robust: describeRobust({ can, clean, faults }, byEye, answer, [
      ...impossible.map(({ session, index, feature }) => ({ session, index, feature })),
      ...search.outliers.map((i) => refOf(lengths[i])),
    ]),
    faults: faults.tests,
    unchecked: faults.unchecked,
    placeDoubt: faults.placeDoubt,
    lackOfFit,
    gauges: findings,
    scatter: last.groups.map(({ gauge, resolutionMm, members }, g) => {
      const uncertain = members.every((i) => lengths[i].reading.uncertaintyMm !== undefined);
      return { gauge, resolutionMm, uncertain, readings: members.length, sdMm: Math.sqrt(last.scatter.variances[g]) };
    }),
    rowShifts: meanRowShifts(all.rowShifts),
    stopped: 'converged: neither numbers nor scatter move any more',
    iterations: last.iterations,
    warnings,
    hints: scaleHints(standOut ? clean.parameters : answer.parameters, sessions, standOut),
  };
}

/** So many wrong readings are likelier than a fault of the machine that shows in them alone. */
const FEW_SLIPS = 3;

type Looked = { readonly can: Determined; readonly plain: WeightedFit } & ReturnType<typeof lookOnce>;

/**
 * Readings that stand out, and faults of the machine, which may look like many of them. A gauge whose zero is seen to be
 * off beyond chance gets it free, and all is looked at again.
 */
function lookFor(determined: Determined, start: readonly number[]): Looked {
  for (let can = determined; ; ) {
    const plain = weightedFit(can.design, start);
    const looked = lookOnce(can, start, plain);
    const [off] = looked.faults.zeros;
    if (off !== undefined) can = withZeroOf(can, off);
    else return withKerfFaults({ can, plain, ...looked }, start);
  }
}

/**
 * Where the kerf was found to differ from opening to opening, the profile's kerf is that of the others, as the report
 * says: neither it nor a gauge's zero may take up what small openings or squares lack. Fields that are not straight stay
 * out: a stencil that fills the bed is best served by the mean of them.
 */
function withKerfFaults(looked: Looked, start: readonly number[]): Looked {
  const { can, faults } = looked;
  const terms = foundTerms(can.design.lengths as readonly Observation[], faults, true);
  if (terms.length === 0) return looked;
  const design = { ...can.design, terms: [...can.design.terms, ...terms] };
  const plain = weightedFit(design, start);
  return { can: { ...can, design }, plain, search: findOutliers(design, start, plain), faults };
}

function lookOnce(can: Determined, start: readonly number[], plain: WeightedFit) {
  const search = findOutliers(can.design, start, plain);
  const faults = faultsIn(search.clean, can);
  if (search.outliers.length === 0 && !search.undecided) return { search, faults };
  const inAll = faultsIn(plain, can);
  // A fault that is gone without a slip or two was these readings' doing: with two columns a wave bends through any of them.
  const byReadings =
    faults.terms.length + faults.zeros.length === 0 && !search.undecided && search.outliers.length <= FEW_SLIPS;
  const isNone = inAll.terms.length + inAll.zeros.length === 0;
  if (isNone || byReadings) return { search, faults };
  const free = inAll.zeros.reduce(withFreeZero, can.design);
  const design = { ...free, terms: [...free.terms, ...foundTerms(free.lengths as readonly Observation[], inAll)] };
  const explained = findOutliers(design, start, weightedFit(design, plain.parameters));
  const fewer = explained.outliers.length < search.outliers.length || (search.undecided && !explained.undecided);
  return fewer ? { search: explained, faults: inAll } : { search, faults };
}

/**
 * Faults show between features: reading one of them more often does not make a chance pattern surer. What small coupons
 * of later days drift by is looked for elsewhere, and no place or size of opening is to blame for it.
 */
function faultsIn(fit: WeightedFit, { uncheckedZeros }: Determined): FaultSearch {
  const all = fit.design.lengths as readonly Observation[];
  const own = [...all.keys()].filter((i) => !all[i].elsewhere);
  const design = designOfMeans(own.length < all.length ? pick(fit.design, own) : fit.design, anyDay);
  const zeros = uncheckedZeros.filter((name) => design.lengths.some(({ gauge }) => gauge === name));
  const each = design.lengths.length === fit.design.lengths.length ? fit : weightedFit(design, fit.parameters);
  return findFaults(each, zeros);
}

function answerOf(can: Determined, fit: WeightedFit, byEye: EyeReadings, standOut: boolean): Answer {
  const coarse = standOut || fit.dof <= 0 ? [] : coarseGauges(fit);
  const rounded = coarse.length > 0 ? roundedAnswer(fit, coarse) : undefined;
  const sum = fit.residuals.reduce((total, e) => total + e * e, 0);
  const answer: Answer = {
    modelName: modelName(can),
    parameters: snapped(fit.parameters, can.assumed),
    assumed: can.assumed,
    covariance: fit.covariance,
    parameterDof: fit.parameterDof,
    residualSdMm: fit.dof > 0 ? Math.sqrt(sum / fit.dof) : 0,
    dof: fit.dof,
    ...(rounded ? { ...rounded, parameters: snapped(rounded.parameters, can.assumed) } : {}),
  };
  return { ...answer, intervals: bracketed(answer, byEye) };
}

/**
 * Where scale or squareness differ over the bed, those of some place lie within ± the doubt of the profile's, nobody
 * knows where: a uniform distribution (GUM, JCGM 100:2008, 4.3.7) that no number of readings makes narrower.
 */
function withPlaceDoubt(answer: Answer, doubt: FaultSearch['placeDoubt']): Answer {
  if (doubt.every((size) => size === 0)) return answer;
  const added = (k: number): number => (doubt[k] ?? 0) ** 2 / 3;
  const covariance = answer.covariance.map((row, j) => row.map((value, k) => (j === k ? value + added(k) : value)));
  const intervals = answer.intervals?.map((own, k) =>
    stretched(own, answer.parameters[k], Math.sqrt(covariance[k][k] / answer.covariance[k][k])),
  );
  return { ...answer, covariance, intervals };
}

/** What is taken like the other axis, or as square, is so exactly. */
const NEXT_TO = 2e-3;

function snapped(parameters: readonly number[], assumed: readonly boolean[]): number[] {
  const all = [...parameters];
  for (const a of [0, 3]) {
    const [own, other] = assumed[a] ? [a, a + 1] : [a + 1, a];
    const isNext = Math.abs(all[own] - all[other]) < NEXT_TO * (Math.abs(all[own]) + Math.abs(all[other]));
    if (assumed[own] && !assumed[other] && isNext) all[own] = all[other];
  }
  if (assumed[3] && assumed[4]) all[3] = all[4] = 0;
  if (assumed[0] && assumed[1] && Math.abs(all[0] - 1) < NEXT_TO && Math.abs(all[1] - 1) < NEXT_TO) all[0] = all[1] = 1;
  if (assumed[2] && Math.abs(all[2]) < 1e-6) all[2] = 0;
  return all;
}

/** No interval reaches out of what eyes saw for certain. */
function bracketed(answer: Answer, { brackets }: EyeReadings): Answer['intervals'] {
  if (brackets.length === 0) return answer.intervals;
  const intervals = parameterResults(answer).map(({ interval95 }) => interval95);
  for (const { axis, lowMm, highMm } of brackets) {
    const k = axis === 'x' ? 3 : 4;
    const [low, high] = [Math.max(intervals[k][0], lowMm), Math.min(intervals[k][1], highMm)];
    if (low < high) intervals[k] = [low, high];
  }
  return intervals;
}

function refuseNoMachine(fit: CalibrationResult['fit']): void {
  const [scaleX, scaleY, shear, kerfXMm, kerfYMm] = PARAMETER_NAMES.map((name) => fit[name].value);
  refuseAll(
    modelProblems({ scaleX, scaleY, shear, kerfXMm, kerfYMm }).map((problem) => ({
      ...problem,
      message: `these readings give what no machine is: ${problem.message}`,
      hint: 'Look for readings in another unit, of another coupon, or with a slip; see --residuals.',
    })),
  );
}

/** Whether a reading is to be left out: by `id`, or by `coupon/id` where coupons share ids. */
function dropTest(
  ids: readonly string[],
  sessions: readonly ReadingSession[],
): (reading: Pick<Observation, 'session' | 'feature'>) => boolean {
  const known = sessions.flatMap(({ coupon, features }) => features.flatMap(({ id }) => [id, `${coupon}/${id}`]));
  refuseAll(
    ids
      .filter((id) => !known.includes(id))
      .map((id) => ({
        code: 'UNKNOWN_DROP',
        message: `no coupon has a feature "${id}" to drop.`,
        hint: didYouMean(id, known, undefined),
      })),
  );
  const told = new Set(ids);
  return ({ session, feature }) => told.has(feature.id) || told.has(`${sessions[session].coupon}/${feature.id}`);
}

function describeRobust(
  { can, clean, faults }: Pick<Looked, 'can' | 'faults'> & { readonly clean: WeightedFit },
  byEye: EyeReadings,
  plain: Answer,
  ignored: RobustAnswer['ignored'],
): RobustAnswer {
  const answer = withPlaceDoubt(answerOf(can, clean, byEye, true), faults.placeDoubt);
  return {
    fit: profileFit(answer, []),
    moves: PARAMETER_NAMES.map((name, k) => {
      const by = answer.parameters[k] - plain.parameters[k];
      const u = Math.sqrt(answer.covariance[k][k]);
      return { name, by, inUncertainties: u > 0 && !can.assumed[k] ? by / u : 0 };
    }),
    ignored,
  };
}

function residualsOf(
  lengths: readonly Observation[],
  { can, search }: Pick<Looked, 'can' | 'search'>,
  answer: Answer,
): ReadingResidual[] {
  const { residuals } = linearise(can.design, answer.parameters);
  return lengths.map((length, i) => ({
    ...refOf(length),
    kind: length.kind,
    ...(length.reading.line === undefined ? {} : { line: length.reading.line }),
    nominalMm: length.nominalMm,
    readingMm: length.valueMm,
    predictedMm: length.valueMm - residuals[i],
    residualMm: residuals[i],
    studentised: search.distance[i],
    sdMm: Math.sqrt(readingVariance(length, search.clean)),
  }));
}

/** Which reading it is. */
const refOf = ({ session, index, feature }: Observation): ReadingRef => ({ session, index, feature: feature.id });

function meanRowShifts(shifts: Observations['rowShifts']): CalibrationResult['rowShifts'] {
  return (['x', 'y'] as const).flatMap((axis) => {
    const own = shifts.filter((shift) => shift.axis === axis);
    if (own.length === 0) return [];
    const shiftMm = mean(own.map((shift) => shift.shiftMm));
    return [{ axis, shiftMm, withinMm: Math.max(...own.map(({ withinMm }) => withinMm)), readings: own.length }];
  });
}

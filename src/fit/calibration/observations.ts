import { type Feature, vectorOf } from '../../coupon/features.js';
import { type Problem, refuseAll, type Warning } from '../../errors.js';
import { grouped, kept } from '../../kept.js';
import type { ReadingSession } from '../../machine/types.js';
import { capProblems } from '../../readings/csv-rows.js';
import type { Reading } from '../../readings/types.js';
import { OUTCOMES_OF } from '../../readings/where-to-read.js';
import { didYouMean } from '../../schema/nearest.js';
import { groupsByDay } from '../drift/session-days.js';
import type { FitLength } from './design.js';
import { gaugeName, isToldAnew, lengthsReadIn, uniformSd } from './gauges.js';

/** One numeric reading of a length, ready for the fit. */
export interface Observation extends FitLength {
  readonly session: number;
  /** Of the session, and when it was read. */
  readonly coupon: string;
  readonly date?: string;
  /** Place of the reading in its session. */
  readonly index: number;
  readonly feature: Feature;
  readonly reading: Reading;
  /** As read; for a vernier the shift that the line stands for. */
  readonly valueMm: number;
  /** One step of the gauge; 0 when nothing is known. */
  readonly resolutionMm: number;
  readonly nominalMm: number;
  /** Read on a later day on a canvas of its own, such as a witness piece's: its places are not those of the bed. */
  readonly elsewhere?: boolean;
}

/** A web that burnt away or an opening that did not come through, or a reading of nothing: by the gauge that found nothing. */
export type EyeObservation = Omit<Observation, 'valueMm'>;

export interface RowShift {
  readonly axis: 'x' | 'y';
  readonly shiftMm: number;
  /** Halves of lines are read: what it may be off by, mm. */
  readonly withinMm: number;
}

export type Observations = Readonly<ReturnType<typeof gatherObservations>>;

/**
 * Puts readings and features together.
 *
 * @throws {InputError} UNKNOWN_FEATURE, OUTCOME_NOT_FOR_KIND, READING_MISSING, READ_AND_MISSING; all of them gathered
 */
export function gatherObservations(sessions: readonly ReadingSession[], defaultResolutionMm?: number) {
  const lengths: Observation[] = [];
  const eye: EyeObservation[] = [];
  // Readings of alternate rows' shift, mm, from verniers.
  const rowShifts: RowShift[] = [];
  const problems: Problem[] = [];
  const isElsewhere = elsewhereTest(sessions);
  const ofScan = scaleDoubts(sessions);
  sessions.forEach((session, sessionIndex) => {
    const byId = new Map(session.features.map((feature) => [feature.id, feature]));
    if (session.refused) return;
    const steps = inferResolutionsMm(session);
    const inferred = (gauge: string): number => defaultResolutionMm ?? steps.get(gauge) ?? 0;
    const { coupon, date } = session;
    const copies = copiedRows(session);
    session.readings.forEach((reading, index) => {
      if (reading.dropped || copies.has(index)) return;
      const problem = problemOf(reading, byId, session.coupon);
      if (problem) {
        problems.push(problem);
        return;
      }
      const feature = byId.get(reading.feature)!;
      if (feature.kind === 'cell') return;
      const elsewhere = isElsewhere(session) ? { elsewhere: true } : {};
      const place = { session: sessionIndex, coupon, date, index, feature, reading, ...elsewhere };
      const gauge = gaugeName(reading.gauge, coupon, feature);
      if (feature.kind === 'vernier') {
        const { axis, stepMm } = feature;
        const shiftMm = (reading.readingMm! - feature.zeroLine) * stepMm;
        if (feature.measures === 'row-shift') rowShifts.push({ axis, shiftMm, withinMm: stepMm / 4 });
        else {
          const [dx, dy] = axis === 'x' ? [1, 0] : [0, 1];
          const step = { resolutionMm: stepMm / 2, nominalMm: 0, gauge, noise: `${gauge} ${stepMm}` };
          lengths.push({ ...place, kind: 'vernier', dx, dy, valueMm: shiftMm, ...step });
        }
        return;
      }
      const { kind, nominalMm } = feature;
      const ownMm = stepOfUncertainty(reading) ?? reading.resolutionMm ?? inferred(gauge);
      const resolutionMm = Math.hypot(ownMm, Math.sqrt(12) * (reading.readingMm ?? 0) * ofScan(session, gauge));
      // Without a name, another step is another gauge.
      const noise = reading.gauge === undefined ? `${gauge} ${resolutionMm}` : gauge;
      const length = { ...place, kind, ...vectorOf(feature), resolutionMm, nominalMm, gauge, noise };
      const seen = reading.outcome === 'gone' || reading.outcome === 'closed';
      // A web or an opening that reads 0 isn't there: that says "less than half a step", not "exactly nothing".
      if (kind !== 'span' && (reading.readingMm === 0 || (seen && reading.readingMm === undefined))) eye.push(length);
      else lengths.push({ ...length, valueMm: reading.readingMm! });
    });
    problems.push(...readAndMissing(session));
  });
  refuseAll(capProblems(problems));
  return { lengths, eye, rowShifts };
}

function elsewhereTest(sessions: readonly ReadingSession[]): (session: ReadingSession) => boolean {
  const first = sessions.find(({ refused, readings }) => !refused && readings.some(({ dropped }) => !dropped));
  const sizeOf = ({ canvas }: ReadingSession): string => `${canvas?.widthMm} ${canvas?.heightMm}`;
  const beds = new Set(sessions.filter(({ date }) => date === first?.date).map(sizeOf));
  return (session) => session.canvas !== undefined && session.date !== first?.date && !beds.has(sizeOf(session));
}

/**
 * A scan's scale is told anew each time. The fit knows one length error for a gauge, that of its first scan: by how much a
 * later one may be off against it, as a share (standard deviation), comes on top of what its readings say of themselves.
 */
function scaleDoubts(sessions: readonly ReadingSession[]): (session: ReadingSession, gauge: string) => number {
  const doubts = new Map<ReadingSession, Map<string, number>>();
  const first = new Map<string, readonly ReadingSession[]>();
  for (const day of groupsByDay(sessions.filter(({ refused }) => !refused))) {
    for (const session of day) {
      const lengths = lengthsReadIn(session).filter(({ gauge }) => isToldAnew(gauge));
      for (const [gauge, own] of grouped(lengths, (one) => one.gauge)) {
        if (kept(first, gauge, () => day) === day) continue;
        const longestMm = Math.max(...own.map(({ readingMm }) => readingMm));
        const limitMm = session.gaugeLimitsMm?.[gauge] ?? 0;
        kept(doubts, session, () => new Map()).set(gauge, (Math.SQRT2 * uniformSd(limitMm)) / longestMm);
      }
    }
  }
  return (session, gauge) => doubts.get(session)?.get(gauge) ?? 0;
}

/** Which reading it is, and where it stands in its file. */
export function placeOf({
  session,
  index,
  feature,
  reading,
}: Pick<Observation, 'session' | 'index' | 'feature' | 'reading'>) {
  return { session, index, feature: feature.id, file: reading.file, line: reading.line };
}

/** The step whose rounding is as uncertain as a reading says of itself: u = step / sqrt 12 (GUM F.2.2.1). */
const stepOfUncertainty = ({ uncertaintyMm }: Reading): number | undefined =>
  uncertaintyMm === undefined ? undefined : Math.sqrt(12) * uncertaintyMm;

/** What can't be read, whatever the machine; what depends on the other readings is looked at in `impossible.ts`. */
function problemOf(reading: Reading, byId: ReadonlyMap<string, Feature>, coupon: string): Problem | undefined {
  const { feature: id, readingMm, resolutionMm, outcome, file, line } = reading;
  const problem = (code: string, key: string, message: string, hint: string | undefined): Problem => ({
    code,
    place: { file, line, key },
    message,
    hint,
  });
  const feature = byId.get(id);
  if (!feature) {
    const hint = didYouMean(id, [...byId.keys()], 'Is this the features file of another coupon?');
    return problem('UNKNOWN_FEATURE', 'feature', `coupon ${coupon} has no feature "${id}".`, hint);
  }
  const allowed = OUTCOMES_OF[feature.kind];
  if (outcome !== undefined && !allowed.includes(outcome)) {
    const message = `"${outcome}" can't be said of ${id}, which is a ${feature.kind}.`;
    const hint = allowed.length > 0 ? `Known here: ${allowed.join(', ')}.` : 'Give a reading in mm.';
    return problem('OUTCOME_NOT_FOR_KIND', 'outcome', message, hint);
  }
  const isCell = feature.kind === 'cell';
  if (outcome === undefined && (isCell || readingMm === undefined)) {
    const [key, what] = isCell ? ['outcome', 'outcome'] : ['reading_mm', 'reading'];
    const hint = isCell ? `One of: ${allowed.join(', ')}.` : 'Fill it in, or delete the row.';
    return problem('READING_MISSING', key, `${id} has no ${what}.`, hint);
  }
  if (![readingMm, resolutionMm].every((value) => value === undefined || Number.isFinite(value))) {
    const message = `${id} reads ${readingMm} with a resolution of ${resolutionMm}: expected numbers.`;
    return problem('NOT_FINITE', 'feature', message, 'Correct the row, or delete it.');
  }
  const { coarsest, finest } = STEPS_THERE_ARE_MM;
  if (resolutionMm !== undefined && !(resolutionMm >= finest && resolutionMm <= coarsest)) {
    const message = `the resolution of ${id} is ${resolutionMm} mm: no gauge for a stencil has steps below ${finest} or above ${coarsest} mm.`;
    const hint = 'Give one step of the gauge, for example 0.01 for a digital caliper, or leave the cell empty.';
    return problem('BAD_RESOLUTION', 'resolution_mm', message, hint);
  }
  if (feature.kind !== 'vernier' || readingMm === undefined) return undefined;
  if (readingMm >= 0 && readingMm <= feature.lines + 0.5) return undefined;
  const message = `${id} reads line ${readingMm}, but this vernier has ${feature.lines} lines.`;
  return problem('READING_IMPOSSIBLE', 'reading_mm', message, 'Write the number of the line that coincides; halves are allowed.'); // biome-ignore format: one call
}

/** Steps of gauges that anybody reads a stencil with, mm: from a steel rule's whole millimetres to 10 nm. */
const STEPS_THERE_ARE_MM = { coarsest: 2, finest: 1e-5 };

/** One piece of film can't be missing and have a width; a width of 0 says the same as the outcome. */
function readAndMissing({ readings, coupon }: ReadingSession): Problem[] {
  const counted = readings.filter(({ dropped }) => !dropped);
  const widths = new Map(counted.filter(({ readingMm = 0 }) => readingMm !== 0).map((one) => [one.feature, one]));
  return counted.flatMap((reading): Problem[] => {
    const { feature, outcome, file, line } = reading;
    const width = widths.get(feature);
    if (!width || (outcome !== 'closed' && outcome !== 'gone')) return [];
    const where = width === reading ? 'the same row' : width.line === undefined ? 'another row' : `line ${width.line}`;
    return [
      {
        code: 'READ_AND_MISSING',
        place: { file, line, key: 'outcome' },
        message: `${feature} of ${coupon} is said to be ${outcome}, but ${where} reads ${width.readingMm} mm.`,
        hint: 'Look at the film again, and delete what is wrong.',
      },
    ];
  });
}

const GAUGE_STEPS_MM = [1, 0.5, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];
const ENOUGH_READINGS = 5;
/** Of a few readings more may end in a nought by chance than of many: no coarser step is taken for certain. */
const COARSEST_OF_FEW_MM = 0.01;
/** A few readings may be mistyped, or taken with another gauge. */
const MOST_OF_THEM = 0.85;

/** For each gauge of a session the coarsest usual step of which nearly every reading without a stated resolution is a multiple; 0 when there is none. */
export function inferResolutionsMm(session: ReadingSession): Map<string, number> {
  const unstated = lengthsReadIn(session).filter(({ resolutionMm }) => resolutionMm === undefined);
  const byGauge = [...grouped(unstated, ({ gauge }) => gauge)];
  return new Map(byGauge.map(([name, own]) => [name, stepOf(own.map(({ readingMm }) => readingMm))]));
}

function stepOf(values: readonly number[]): number {
  const multiple = (value: number, step: number): boolean =>
    Math.abs(value / step - Math.round(value / step)) < 1e-6 * Math.max(1, Math.abs(value / step) * 1e-6);
  const coarsest = values.length < ENOUGH_READINGS ? COARSEST_OF_FEW_MM : Number.POSITIVE_INFINITY;
  return (
    GAUGE_STEPS_MM.filter((step) => step <= coarsest).find(
      (step) => values.filter((value) => multiple(value, step)).length >= MOST_OF_THEM * values.length,
    ) ?? 0
  );
}

type Read = Pick<ReadingSession, 'coupon' | 'features' | 'readings'>;

/** Fewer repeats than this are equal by chance; of many, a few may have been read anew. */
const LEAST_REPEATS = 3;
const NEARLY_ALL = 0.9;
/** Cells of a grid that was cut twice mostly look alike: only where all do are they taken for copies. */
const CELLS = 'cells';

/**
 * Readings, by gauge, that say to the last digit what the first one of the same feature says, where nearly all repeats
 * do: rows that were pasted twice, or a step that makes all equal. Repeats that were read anew differ here and there.
 */
function copiesIn({ coupon, features, readings }: Read): ReadonlyMap<string, readonly number[]> {
  const byId = new Map(features.map((feature) => [feature.id, feature]));
  const rows = readings.flatMap(({ feature: id, readingMm, outcome, gauge }, index) => {
    const feature = byId.get(id);
    const name = feature && (feature.kind === 'cell' ? CELLS : gaugeName(gauge, coupon, feature));
    return name === undefined ? [] : [{ name, index, id, value: readingMm ?? outcome }];
  });
  return new Map(
    [...grouped(rows, ({ name }) => name)].flatMap(([name, own]) => {
      const repeats = [...grouped(own, ({ id }) => id).values()].flatMap(([first, ...again]) =>
        again.map(({ index, value }) => ({ index, isEqual: value === first.value })),
      );
      const equal = repeats.flatMap(({ index, isEqual }) => (isEqual ? index : [])).sort((a, b) => a - b);
      const least = (name === CELLS ? 1 : NEARLY_ALL) * repeats.length;
      return repeats.length >= LEAST_REPEATS && equal.length >= least ? [[name, equal] as const] : [];
    }),
  );
}

/** Those of all gauges, which count no more. */
export const copiedRows = (session: Read): ReadonlySet<number> => new Set([...copiesIn(session).values()].flat());

export function copyWarnings(sessions: readonly Read[]): Warning[] {
  return sessions.flatMap((session) =>
    [...copiesIn(session)].map(([name, { length }]) => ({
      code: 'READINGS_COPIED',
      message: `${length} readings of ${name} repeat the first ones of the same features to the last digit: each counts once.`,
      hint: 'Delete rows that were copied. Readings that a coarse step makes equal tell nothing new either.',
    })),
  );
}

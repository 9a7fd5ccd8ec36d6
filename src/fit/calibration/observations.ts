import type { Feature } from '../../coupon/features.js';
import { InputError, type Problem } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import { capProblems } from '../../readings/cap-problems.js';
import type { Outcome, Reading } from '../../readings/types.js';
import { nearestName } from '../../schema/nearest.js';
import type { Length } from './length-model.js';

/** One numeric reading of a length, ready for the fit. */
export interface Observation extends Length {
  readonly session: number;
  /** Place of the reading in its session. */
  readonly index: number;
  readonly feature: Feature;
  readonly reading: Reading;
  /** As read; for a vernier the shift that the line stands for. */
  readonly valueMm: number;
  /** One step of the gauge; 0 when nothing is known. */
  readonly resolutionMm: number;
  readonly nominalMm: number;
}

/** A web that burnt away or an opening that did not come through, or a reading of nothing. */
export interface EyeObservation extends Length {
  readonly session: number;
  readonly index: number;
  readonly feature: Feature;
  readonly reading: Reading;
  /** Of the gauge that found nothing there. */
  readonly resolutionMm: number;
  readonly nominalMm: number;
}

export interface Observations {
  readonly lengths: readonly Observation[];
  readonly eye: readonly EyeObservation[];
  /** Readings of alternate rows' shift, mm, from verniers. */
  readonly rowShifts: readonly { readonly axis: 'x' | 'y'; readonly shiftMm: number; readonly feature: string }[];
  /** How many readings belong to power/speed cells: they are for the process window. */
  readonly cellCount: number;
}

const OUTCOMES_OF: Record<Feature['kind'], readonly Outcome[]> = {
  span: [],
  opening: ['closed'],
  web: ['gone'],
  cell: ['uncut', 'partial', 'through', 'marked'],
  vernier: [],
};

/**
 * Puts readings and features together.
 *
 * @throws {InputError} UNKNOWN_FEATURE, OUTCOME_NOT_FOR_KIND, READING_MISSING; all of them gathered
 */
export function gatherObservations(sessions: readonly ReadingSession[], defaultResolutionMm?: number): Observations {
  const lengths: Observation[] = [];
  const eye: EyeObservation[] = [];
  const rowShifts: { axis: 'x' | 'y'; shiftMm: number; feature: string }[] = [];
  const problems: Problem[] = [];
  let cellCount = 0;
  sessions.forEach((session, sessionIndex) => {
    const byId = new Map(session.features.map((feature) => [feature.id, feature]));
    const inferred = defaultResolutionMm ?? inferResolutionMm(session);
    if (session.refused) return;
    session.readings.forEach((reading, index) => {
      if (reading.dropped) return;
      const problem = problemOf(reading, byId, session.coupon);
      if (problem) {
        problems.push(problem);
        return;
      }
      const feature = byId.get(reading.feature)!;
      const place = { session: sessionIndex, index, feature, reading };
      if (feature.kind === 'cell') {
        cellCount += 1;
      } else if (feature.kind === 'vernier') {
        const shiftMm = (reading.readingMm! - feature.zeroLine) * feature.stepMm;
        if (feature.measures === 'row-shift') rowShifts.push({ axis: feature.axis, shiftMm, feature: feature.id });
        else {
          const [dx, dy] = feature.axis === 'x' ? [1, 0] : [0, 1];
          const resolutionMm = feature.stepMm / 2;
          lengths.push({ ...place, kind: 'vernier', dx, dy, valueMm: shiftMm, resolutionMm, nominalMm: 0 });
        }
      } else {
        const { kind, nominalMm } = feature;
        const dx = feature.to[0] - feature.from[0];
        const dy = feature.to[1] - feature.from[1];
        const resolutionMm = reading.resolutionMm ?? inferred;
        const seen = reading.outcome === 'gone' || reading.outcome === 'closed';
        // A web or an opening that reads 0 isn't there: that says "less than half a step", not "exactly nothing".
        if (kind !== 'span' && (reading.readingMm === 0 || (seen && reading.readingMm === undefined))) {
          eye.push({ ...place, kind, dx, dy, resolutionMm, nominalMm });
        } else {
          lengths.push({ ...place, kind, dx, dy, valueMm: reading.readingMm!, resolutionMm, nominalMm });
        }
      }
    });
  });
  if (problems.length > 0) throw new InputError(capProblems(problems));
  return { lengths, eye, rowShifts, cellCount };
}

function problemOf(reading: Reading, byId: ReadonlyMap<string, Feature>, coupon: string): Problem | undefined {
  const place = { file: reading.file, line: reading.line, key: 'feature' };
  const feature = byId.get(reading.feature);
  if (!feature) {
    const nearest = nearestName(reading.feature, [...byId.keys()]);
    return {
      code: 'UNKNOWN_FEATURE',
      place,
      message: `coupon ${coupon} has no feature "${reading.feature}".`,
      hint: nearest === undefined ? 'Is this the features file of another coupon?' : `Did you mean "${nearest}"?`,
    };
  }
  const allowed = OUTCOMES_OF[feature.kind];
  if (reading.outcome !== undefined && !allowed.includes(reading.outcome)) {
    return {
      code: 'OUTCOME_NOT_FOR_KIND',
      place: { ...place, key: 'outcome' },
      message: `"${reading.outcome}" can't be said of ${reading.feature}, which is a ${feature.kind}.`,
      hint: allowed.length > 0 ? `Known here: ${allowed.join(', ')}.` : 'Give a reading in mm.',
    };
  }
  const needsOutcome = feature.kind === 'cell';
  if (needsOutcome ? reading.outcome === undefined : reading.readingMm === undefined && reading.outcome === undefined) {
    return {
      code: 'READING_MISSING',
      place: { ...place, key: needsOutcome ? 'outcome' : 'reading_mm' },
      message: `${reading.feature} has no ${needsOutcome ? 'outcome' : 'reading'}.`,
      hint: needsOutcome ? `One of: ${allowed.join(', ')}.` : 'Fill it in, or delete the row.',
    };
  }
  return undefined;
}

const GAUGE_STEPS_MM = [1, 0.5, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001];
const ENOUGH_READINGS = 5;
/** A few readings may be mistyped, or taken with another gauge. */
const MOST_OF_THEM = 0.85;

/** The coarsest usual gauge step of which nearly every reading without a stated resolution is a multiple; 0 when there is none. */
export function inferResolutionMm(session: ReadingSession): number {
  const verniers = new Set(session.features.filter(({ kind }) => kind === 'vernier').map(({ id }) => id));
  const values = session.readings
    .filter((r) => r.resolutionMm === undefined && r.readingMm !== undefined && !verniers.has(r.feature))
    .map((r) => r.readingMm!);
  if (values.length < ENOUGH_READINGS) return 0;
  const multiple = (value: number, step: number): boolean =>
    Math.abs(value / step - Math.round(value / step)) < 1e-6 * Math.max(1, Math.abs(value / step) * 1e-6);
  return (
    GAUGE_STEPS_MM.find(
      (step) => values.filter((value) => multiple(value, step)).length >= MOST_OF_THEM * values.length,
    ) ?? 0
  );
}

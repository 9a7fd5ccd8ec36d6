import { type DimensionalFeature, isForJaws } from '../../coupon/features.js';
import type { ReadingSession } from '../../machine/types.js';

/** Ends of a mirror image this near to a span's are that span, mm and as a share of its length. */
const SAME_PLACE_MM = 3;
const SAME_LENGTH = 0.05;

/**
 * What no reading in these sessions could show if it were wrong as a whole, in plain sentences: a film that lay turned
 * or mirrored, axes that were interchanged, and what lengths never show; then the faults of a machine that these
 * readings are too few for.
 *
 * @param faults - that would not show, in words
 * @param gauges - those whose limit of error nobody stated: their own error is taken for the machine's
 */
export function uncheckedSentences(
  sessions: readonly ReadingSession[],
  faults: readonly string[] = [],
  gauges: readonly string[] = [],
): string[] {
  const coupons = sessions
    .filter(({ refused }) => !refused)
    .flatMap((session) => {
      const lengths = lengthsOf(session);
      const read = readIn(session);
      // Windows stand at places of their own.
      const pools = [lengths.filter(({ kind }) => kind === 'span'), lengths.filter(isForJaws)];
      return pools.map((spans) => ({ spans, read: spans.filter((one) => read.includes(one)) }));
    });
  const shows = (axis: 0 | 1): boolean => coupons.some(({ spans, read }) => read.some((span) => along(span, axis) && !hasMirror(span, spans, axis))); // biome-ignore format: one thought
  const swapped = coupons.some(({ spans, read }) => read.some((span) => (along(span, 0) || along(span, 1)) && !hasTwin(span, spans))); // biome-ignore format: one thought
  // A ladder holds each width along both axes: only the kerfs of another coupon show that it was read with X for Y.
  const widths = sessions.filter(({ refused, ...session }) => !refused && [0, 1].every((axis) => readIn(session).some((one) => one.kind !== 'span' && along(one, axis as 0 | 1)))); // biome-ignore format: one thought
  const alone =
    swapped && widths.length === 1 && readIn(widths[0]).every((one) => one.kind !== 'span' && !isForJaws(one))
      ? widths
      : [];
  const unseen = [
    ...(shows(0) && shows(1) ? [] : ['that the film lay neither turned nor mirrored']),
    ...(swapped ? [] : ['that X and Y were not interchanged']),
  ];
  const help = unseen.length > 0 ? ' (the short spans at the ends of the rulers show it: 10 mm along X, 12 mm along Y)' : ''; // biome-ignore format: one sentence
  const never = [
    ...(unseen.length > 0 ? [`${unseen.join('; ')}${help}`] : []),
    ...alone.map(({ coupon }) => `that X and Y of ${coupon} were not interchanged (windows of the ruler that a caliper grips show it)`), // biome-ignore format: one sentence
    ...gauges.map(
      (name) => `that the gauge of ${name} shows true lengths (--gauge-limit-mm states how far off it may be)`,
    ),
    'that the coupon was cut with the power, speed, passes and film of the stencils',
  ];
  return [
    `Not checked, because lengths can't show it: ${never.join('; ')}.`,
    ...(faults.length > 0
      ? [`Not checked, because these readings would not show it in 9 of 10 cases: ${faults.join('; ')}.`]
      : []),
  ];
}

const lengthsOf = ({ features }: Pick<ReadingSession, 'features'>): DimensionalFeature[] =>
  features.filter((one): one is DimensionalFeature => 'from' in one);

function readIn(session: Pick<ReadingSession, 'features' | 'readings'>): DimensionalFeature[] {
  const read = new Set(session.readings.flatMap((row) => (row.readingMm === undefined || row.dropped ? [] : [row.feature]))); // biome-ignore format: one thought
  return lengthsOf(session).filter(({ id }) => read.has(id));
}

function along({ from, to }: DimensionalFeature, axis: 0 | 1): boolean {
  return from[axis] !== to[axis] && from[1 - axis] === to[1 - axis];
}

const near = (a: number, b: number): boolean => Math.abs(a / b - 1) < SAME_LENGTH;

/** Whether a span as long stands where the mirror image of this one falls: then both read alike on a turned film. */
function hasMirror(span: DimensionalFeature, spans: readonly DimensionalFeature[], axis: 0 | 1): boolean {
  const own = spans.filter((other) => along(other, axis));
  const ends = own.flatMap(({ from, to }) => [from[axis], to[axis]]);
  const sum = Math.min(...ends) + Math.max(...ends);
  return own.some(
    (other) =>
      near(other.nominalMm, span.nominalMm) &&
      Math.abs(sum - span.to[axis] - other.from[axis]) < SAME_PLACE_MM &&
      Math.abs(sum - span.from[axis] - other.to[axis]) < SAME_PLACE_MM,
  );
}

/** Whether a span as long runs along the other axis. */
function hasTwin(span: DimensionalFeature, spans: readonly DimensionalFeature[]): boolean {
  const other = along(span, 0) ? 1 : 0;
  return spans.some((one) => along(one, other) && near(one.nominalMm, span.nominalMm));
}

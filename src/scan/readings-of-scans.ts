import { type DimensionalFeature, type Feature, vectorOf } from '../coupon/features.js';
import { KERF_SIGN } from '../fit/calibration/design.js';
import { spansGauge } from '../fit/calibration/gauges.js';
import { dot } from '../fit/linear/weighted-qr.js';
import type { Reading } from '../readings/types.js';
import type { Scanned } from './measure/measure-coupon.js';
import { medianOf } from './picture/robust.js';
import { type ScannerFit, scaleUncertainty, trueLength } from './scanner/scanner.js';

/** One row of a readings file, made from all pictures of a coupon. */
export interface ScanReading extends Reading {
  readonly uncertaintyMm?: number;
  readonly gaugeLimitMm?: number;
}

/**
 * An edge read too far out makes openings wider and webs narrower, as a kerf does, and no reading tells the two apart. Two
 * gauges, each with a zero of its own, leave as much doubt in the kerf as there is when their limits are wider by root two.
 */
const TWO_GAUGES = Math.SQRT2;
/** A limit of error that stands for a standard uncertainty: that of a uniform distribution of this half width (GUM 4.3.7). */
const LIMIT_OF_SD = Math.sqrt(3);

/**
 * Puts together what several pictures say of a coupon's features: lengths with the scanner's own scale taken out, the
 * mean weighted by the uncertainties. What all readings share, the scale and the edges' offset, is not in `uncertaintyMm`
 * but in the limit of error of the gauge, because it doesn't average out.
 *
 * @param walls - without a reading of an opening the widths can't be told
 */
export function readingsOfScans(
  features: readonly Feature[],
  pictures: readonly (readonly Scanned[])[],
  scanner: ScannerFit,
  widthsKnown: boolean,
): ScanReading[] {
  const rows = features.flatMap((feature): ScanReading[] => {
    const seen = pictures.flatMap((scanned) => scanned.filter((one) => one.feature.id === feature.id));
    if (seen.length === 0) return [];
    const doubt = seen.find((one) => one.doubt !== undefined)?.doubt;
    const outcome = seen.find((one) => one.outcome !== undefined);
    const lengths = seen.filter((one) => one.lengthMm !== undefined);
    const note = outcome?.note ?? doubt;
    if (lengths.length < seen.length / 2 || lengths.length === 0)
      return outcome ? [{ feature: feature.id, outcome: outcome.outcome, note }] : [];
    if (feature.kind === 'cell' || feature.kind === 'vernier' || (feature.kind !== 'span' && !widthsKnown)) return [];
    return [{ ...lengthRow(feature, lengths, scanner), note }];
  });
  return withLimits(withShear(rows, features, scanner), features, pictures, scanner);
}

/**
 * A right angle that is told, though not quite: its doubt is in slanted spans, and however many there are, no more is known.
 * Where it is open they are a gauge of their own, with a limit of error.
 */
function withShear(
  rows: readonly ScanReading[],
  features: readonly Feature[],
  { open, uShear }: ScannerFit,
): readonly ScanReading[] {
  if (open.includes('shear')) return rows;
  const shareOf = new Map(
    features.flatMap((feature): [string, number][] => {
      if (feature.kind !== 'span') return [];
      const { dx, dy } = vectorOf(feature);
      return dx !== 0 && dy !== 0 ? [[feature.id, Math.abs(dx * dy) / Math.hypot(dx, dy) ** 2]] : [];
    }),
  );
  const slanted = rows.filter(({ feature }) => shareOf.has(feature)).length;
  return rows.map((row) => {
    const mm = (row.readingMm ?? 0) * (shareOf.get(row.feature) ?? 0) * uShear;
    return mm > 0 ? { ...row, uncertaintyMm: Math.hypot(row.uncertaintyMm ?? 0, Math.sqrt(slanted) * mm) } : row;
  });
}

function lengthRow(feature: DimensionalFeature, lengths: readonly Scanned[], scanner: ScannerFit): ScanReading {
  const values = lengths.map(({ lengthMm = 0, direction }) => trueLength(lengthMm, direction, scanner));
  const weights = lengths.map(({ uMm = 1 }) => 1 / uMm ** 2);
  const weight = weights.reduce((sum, one) => sum + one, 0);
  const mean = dot(weights, values) / weight;
  // Pictures that differ by more than they say of themselves say less.
  const left = values.map((value, i) => (value - mean) / (lengths[i].uMm ?? 1));
  const stretch = values.length > 1 ? Math.max(1, Math.sqrt(dot(left, left) / (values.length - 1))) : 1;
  return {
    feature: feature.id,
    readingMm: mean + KERF_SIGN[feature.kind] * scanner.offsetMm,
    uncertaintyMm: stretch / Math.sqrt(weight),
    gauge: gaugeOf(feature, scanner),
  };
}

/**
 * Spans share the scanner's scale, openings and webs its edges' offset. As long as film and scanner can't be told apart each
 * direction has a scale of its own.
 */
function gaugeOf({ kind, from, to }: DimensionalFeature, { reversed }: ScannerFit): string {
  if (kind !== 'span') return `scanner ${kind}s`;
  if (reversed) return 'scanner spans';
  return spansGauge('scanner', to[1] === from[1] ? 'X' : to[0] === from[0] ? 'Y' : 'slanted');
}

function withLimits(
  rows: readonly ScanReading[],
  features: readonly Feature[],
  pictures: readonly (readonly Scanned[])[],
  scanner: ScannerFit,
): ScanReading[] {
  const spans = new Set(features.flatMap(({ id, kind }) => (kind === 'span' ? [id] : [])));
  const limits = new Map<string, number>();
  for (const { feature, readingMm, gauge } of rows) {
    if (readingMm === undefined || gauge === undefined) continue;
    const scales = pictures.flatMap((scanned) =>
      scanned.filter((one) => one.feature.id === feature).map(({ direction }) => scaleUncertainty(direction, scanner)),
    );
    const scale = Math.max(...scales) * readingMm;
    const common = spans.has(feature) ? scale : Math.hypot(scale, TWO_GAUGES * scanner.uOffsetMm);
    limits.set(gauge, Math.max(limits.get(gauge) ?? 0, LIMIT_OF_SD * common));
  }
  return rows.map((row) => {
    const gaugeLimitMm = row.gauge === undefined ? undefined : limits.get(row.gauge);
    return gaugeLimitMm === undefined ? row : { ...row, gaugeLimitMm };
  });
}

/** Turned on the glass, one film's openings differ by less, mm: shadows at its walls fall otherwise. */
const SAME_FILM_MM = 0.01;
/** Fewer widths may be dirt. */
const LEAST_WIDTHS = 3;

/**
 * By how much wider one picture shows all openings across an axis than another does, and webs as much narrower, mm: it is of
 * another film. Undefined where they don't, or where no widths tell.
 */
export function otherFilmMm(pictures: readonly (readonly Scanned[])[], scanner: ScannerFit): number | undefined {
  const [first, ...others] = pictures.map((scanned) => new Map(scanned.map((one) => [one.feature.id, one])));
  const differences = others.flatMap((other) =>
    [0, 1].flatMap((axis) => {
      const wider = [...other].flatMap(([id, { feature, lengthMm, direction }]) => {
        const before = first.get(id);
        const isWidth = feature.kind === 'opening' || feature.kind === 'web';
        if (!isWidth || lengthMm === undefined || before?.lengthMm === undefined) return [];
        if (feature.from[axis] === feature.to[axis]) return [];
        const more = trueLength(lengthMm, direction, scanner) - trueLength(before.lengthMm, before.direction, scanner);
        return feature.kind === 'opening' ? more : -more;
      });
      // Most of them must say so, and not the middle one by chance.
      const middle = medianOf(wider);
      const agree = wider.filter((one) => Math.abs(one - middle) < Math.abs(middle) / 2).length;
      return wider.length >= LEAST_WIDTHS && agree > 0.8 * wider.length ? Math.abs(middle) : [];
    }),
  );
  const most = Math.max(0, ...differences);
  return most > SAME_FILM_MM + 2 * scanner.uOffsetMm ? most : undefined;
}

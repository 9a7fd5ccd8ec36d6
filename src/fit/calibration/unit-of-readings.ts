import { type DimensionalFeature, type Feature, vectorOf } from '../../coupon/features.js';
import type { Reading } from '../../readings/types.js';
import { median } from '../statistics/averages.js';
import { lengthsReadIn } from './gauges.js';
import { canBe } from './gross-errors.js';

/** Units in which a column of bare numbers may have been written, and what a number in mm must be multiplied by. */
const UNITS = [
  { unit: 'in', name: 'inches', perMm: 1 / 25.4 },
  { unit: 'mil', name: 'mil', perMm: 1 / 0.0254 },
  { unit: 'um', name: 'µm', perMm: 1000 },
  { unit: 'cm', name: 'cm', perMm: 0.1 },
] as const;

/** Shorter spans tell no unit, mm: the kerf is beside them. */
const LEAST_SPAN_MM = 5;
const [LEAST_SPANS, LEAST_WIDTHS] = [2, 3];
/** A few of them may be mistyped besides. */
const MOST_OF_THEM = 0.85;

/** A reading of a length taken at its number. */
interface Pair {
  readonly feature: DimensionalFeature;
  readonly value: number;
}

/**
 * The unit that bare numbers evidently have when it isn't mm: all spans, or all widths of openings and webs, are the
 * designed ones in inches, mil, µm or cm. A few such numbers among others are no unit but wrong readings.
 *
 * @param readings - with their numbers as written, those without a unit only
 * @returns the unit, how many readings say so and `of` what, and one of them: which, what is written, what was designed
 */
export function unitOfReadings(readings: readonly Reading[], features: readonly Feature[]) {
  const lengths = lengthsReadIn({ coupon: '', features, readings });
  const pairs = lengths.flatMap(({ feature, readingMm: value }) => (value > 0 ? [{ feature, value }] : []));
  const spans = pairs.filter(({ feature }) => feature.kind === 'span' && feature.nominalMm >= LEAST_SPAN_MM);
  const widths = pairs.filter(({ feature }) => feature.kind !== 'span');
  const ofSpans = unitOf(spans, LEAST_SPANS);
  const ofWidths = unitOf(widths, LEAST_WIDTHS);
  const found = ofSpans ?? ofWidths;
  if (!found) return undefined;
  const both = (ofSpans === found || spans.length === 0) && (ofWidths === found || widths.length === 0);
  const compared = ofSpans ? spans : widths;
  const longest = compared.reduce((a, b) => (b.feature.nominalMm > a.feature.nominalMm ? b : a));
  return {
    unit: found.unit,
    name: found.name,
    count: both ? pairs.length : compared.length,
    of: both ? 'readings' : ofSpans ? 'spans' : 'widths',
    example: { feature: longest.feature.id, value: longest.value, nominalMm: longest.feature.nominalMm },
  };
}

/** The unit in which most can be what a machine without an error of scale makes, which they can't be in mm; of several the one with the likest kerfs. */
function unitOf(pairs: readonly Pair[], least: number) {
  const isIn = (perMm: number): boolean => {
    const fitting = pairs.filter(({ feature, value: written }) =>
      canBe({ ...vectorOf(feature), kind: feature.kind, valueMm: written / perMm, resolutionMm: 0 }, [1, 1]),
    );
    return fitting.length >= MOST_OF_THEM * pairs.length;
  };
  /** The kerf is the same for all. */
  const spread = (perMm: number): number => {
    const wider = pairs.map(
      ({ feature, value }) => (value / perMm - feature.nominalMm) * (feature.kind === 'web' ? -1 : 1),
    );
    const usual = median(wider) ?? 0;
    return wider.reduce((sum, mm) => sum + Math.abs(mm - usual), 0);
  };
  if (pairs.length < least || isIn(1)) return undefined;
  return UNITS.filter(({ perMm }) => isIn(perMm)).sort((a, b) => spread(a.perMm) - spread(b.perMm))[0];
}

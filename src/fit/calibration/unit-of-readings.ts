import { axisAlong, type DimensionalFeature, type Feature, vectorOf } from '../../coupon/features.js';
import type { Reading } from '../../readings/types.js';
import { median } from '../statistics/averages.js';
import { lengthsReadIn } from './gauges.js';

/** Units in which a column of bare numbers may have been written, and what a number in mm must be multiplied by. */
const UNITS = [
  { unit: 'in', name: 'inches', perMm: 1 / 25.4 },
  { unit: 'mil', name: 'mil', perMm: 1 / 0.0254 },
  { unit: 'um', name: 'µm', perMm: 1000 },
  { unit: 'cm', name: 'cm', perMm: 0.1 },
] as const;

/** No machine that cuts anything usable has scales further from 1. */
const SCALE_REACH = 0.04;
/** Slopes of short widths are as good as the gauge's step. */
const SLOPE_REACH = 0.12;
/** Openings differ from their design by the kerf and little else, mm. */
const WIDEST_KERF_MM = 0.7;
/** Spans from here on tell a unit by their length, mm: the kerf is nothing beside it. */
const LEAST_SPAN_MM = 5;
/** Sizes that differ by less than this say nothing of a slope, mm. */
const LEAST_STEP_MM = 0.15;
const LEAST_SLOPES = 3;
/** Every pair of them is looked at. */
const MOST_WIDTHS = 300;
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
  for (const { unit, name, perMm } of UNITS) {
    const bySpans = spansAre(spans, perMm);
    const byWidths = widthsAre(widths, perMm);
    if (!bySpans && !byWidths) continue;
    const both = (bySpans || spans.length === 0) && (byWidths || widths.length === 0);
    const compared = bySpans ? spans : widths;
    const longest = compared.reduce((a, b) => (b.feature.nominalMm > a.feature.nominalMm ? b : a));
    return {
      unit,
      name,
      count: both ? pairs.length : compared.length,
      of: both ? 'readings' : bySpans ? 'spans' : 'widths',
      example: { feature: longest.feature.id, value: longest.value, nominalMm: longest.feature.nominalMm },
    };
  }
  return undefined;
}

function spansAre(spans: readonly Pair[], perMm: number): boolean {
  if (spans.length < 2) return false;
  const fitting = spans.filter(({ feature, value }) => Math.abs(value / perMm / feature.nominalMm - 1) < SCALE_REACH);
  return fitting.length >= MOST_OF_THEM * spans.length && fitting.length >= 2;
}

/** Widths grow from size to size by the unit, whatever the kerf adds to each. */
function widthsAre(widths: readonly Pair[], perMm: number): boolean {
  const near = widths.filter(({ feature, value }) => Math.abs(value / perMm - feature.nominalMm) < WIDEST_KERF_MM);
  if (near.length < MOST_OF_THEM * widths.length) return false;
  const enough = widths.slice(0, MOST_WIDTHS);
  const slopes = enough.flatMap((a) =>
    enough.flatMap((b) => {
      const step = b.feature.nominalMm - a.feature.nominalMm;
      return step >= LEAST_STEP_MM && alike(a, b) ? (b.value - a.value) / step : [];
    }),
  );
  return slopes.length >= LEAST_SLOPES && Math.abs((median(slopes) ?? 0) / perMm - 1) < SLOPE_REACH;
}

/** Of one kind and one axis, so that both hold the same kerf. */
function alike({ feature: a }: Pair, { feature: b }: Pair): boolean {
  return a.kind === b.kind && axisAlong(vectorOf(a)) === axisAlong(vectorOf(b));
}

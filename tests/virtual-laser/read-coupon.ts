import type { DimensionalFeature, Feature } from '../../src/coupon/features.js';
import type { Film } from './film.js';
import { gaussian } from './random.js';

export interface Gauge {
  /** Standard deviation of the hand and the gauge, mm. */
  readonly noiseMm: number;
  /** One digital step, mm; readings are rounded to it. */
  readonly resolutionMm: number;
}

export interface Read {
  readonly feature: string;
  readonly readingMm?: number;
  readonly outcome?: 'gone' | 'closed';
}

/** How far beyond its ends a feature is looked at, mm of film. */
const LOOK_MM = 4;

/** What is there to measure, without noise. */
function trueValue(film: Film, feature: DimensionalFeature): number | 'gone' | 'closed' {
  const from = film.land(feature.from);
  const to = film.land(feature.to);
  const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
  const burnt = film.burntAlong(from, to, -LOOK_MM, length + LOOK_MM);
  const middle = length / 2;
  const around = burnt.find(([start, end]) => start <= middle && end >= middle);
  if (feature.by === 'jaws' && feature.kind === 'opening') {
    // Both windows, whatever film stands between them.
    const first = burnt.find(([start, end]) => start <= 0.5 && end >= 0.5);
    const last = burnt.find(([start, end]) => start <= length - 0.5 && end >= length - 0.5);
    return first && last ? last[1] - first[0] : 'closed';
  }
  if (feature.kind === 'opening') return around ? around[1] - around[0] : 'closed';
  if (feature.kind === 'web') {
    if (around) return 'gone';
    const left = Math.max(...burnt.filter(([, end]) => end < middle).map(([, end]) => end));
    const right = Math.min(...burnt.filter(([start]) => start > middle).map(([start]) => start));
    return right - left;
  }
  const edges = burnt.map((interval) => interval[feature.side === 'far' ? 1 : 0]);
  const nearest = (t: number): number =>
    edges.reduce((best, edge) => (Math.abs(edge - t) < Math.abs(best - t) ? edge : best), Infinity);
  return nearest(length) - nearest(0);
}

/** Reads every dimensional feature with a gauge, as a person would: to the nearest step. */
export function readCoupon(film: Film, features: readonly Feature[], gauge: Gauge, random: () => number): Read[] {
  const rows: Read[] = [];
  for (const feature of features) {
    if (feature.kind === 'cell' || feature.kind === 'vernier') continue;
    const value = trueValue(film, feature);
    if (typeof value !== 'number') {
      rows.push({ feature: feature.id, outcome: value });
      continue;
    }
    const noisy = value + gauge.noiseMm * gaussian(random);
    rows.push({
      feature: feature.id,
      readingMm: Math.max(0, Math.round(noisy / gauge.resolutionMm) * gauge.resolutionMm),
    });
  }
  return rows;
}

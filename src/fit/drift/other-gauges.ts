import type { ParameterName, ReadingSession } from '../../machine/types.js';
import { type Gauge, gaugesOf, isToldAnew } from '../calibration/gauges.js';
import type { Observation } from '../calibration/observations.js';

export interface OtherGauge extends Gauge {
  readonly longestMm: number;
}

/** Gauges, by the names that people gave them, with which none of the older readings was taken. */
export function otherGauges(
  older: readonly ReadingSession[],
  fresh: readonly ReadingSession[],
  lengths: readonly Observation[],
): OtherGauge[] {
  const known = new Set(older.flatMap(({ readings }) => readings.flatMap(({ gauge }) => gauge ?? [])));
  if (known.size === 0) return [];
  return withLongest(lengths.filter(({ reading }) => reading.gauge !== undefined && !known.has(reading.gauge)), fresh); // biome-ignore format: one call
}

function withLongest(read: readonly Observation[], sessions: readonly ReadingSession[]): OtherGauge[] {
  return gaugesOf(read, sessions, undefined).map((gauge) => ({
    ...gauge,
    longestMm: Math.max(...read.filter((one) => one.gauge === gauge.name).map(({ valueMm }) => valueMm)),
  }));
}

/** What another gauge may read otherwise within its limit of error, as a variance (GUM, JCGM 100:2008, 4.3.7). */
export function allowedTo(gauges: readonly OtherGauge[], parameter: ParameterName): number {
  const off = gauges.map(({ limitMm = 0, longestMm }) =>
    parameter.startsWith('kerf') ? limitMm : limitMm / longestMm,
  );
  return Math.max(0, ...off) ** 2 / 3;
}

/** The same of a scan, whose scale is told anew each time: as unlike the one before as another gauge, but for its edges. */
export function allowedToScan(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
  parameter: ParameterName,
): number {
  const spans = lengths.filter(({ gauge }) => isToldAnew(gauge));
  return parameter.startsWith('kerf') ? 0 : allowedTo(withLongest(spans, sessions), parameter);
}

export function otherGaugeWords(gauges: readonly OtherGauge[], changed: boolean): string[] {
  if (!changed || gauges.length === 0) return [];
  const names = gauges.map(({ name }) => name).join(' and ');
  return [
    `They were read with another gauge (${names}) than those before: what one gauge reads more than the other looks like a change of the machine. Read some of the earlier film again with it.`,
  ];
}

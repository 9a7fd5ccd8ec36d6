import { axisAlong, type Feature, isForJaws } from '../../coupon/features.js';
import type { ReadingSession } from '../../machine/types.js';
import type { FitLength } from './design.js';

/** What is known of a gauge before its readings are looked at. */
export type Gauge = ReturnType<typeof gaugesOf>[number];

/**
 * The gauge of a reading: as named in the readings, else one for the spans and one for the widths of a coupon, which are
 * rarely read with the same one, and a caliper for what only jaws take hold of.
 */
export function gaugeName(named: string | undefined, coupon: string, feature: Feature): string {
  if (feature.kind === 'vernier') return 'verniers';
  // Jaws that grip and tips that are sighted have zeros of their own: as one they had put 50 um of sighting into the scales.
  if (isForJaws(feature)) return named === undefined ? `${coupon} caliper` : `${named}${JAWS}`;
  return named ?? `${coupon} ${feature.kind === 'span' ? 'spans' : 'widths'}`;
}

const JAWS = ' jaws';

/** The instrument that a gauge is: its jaws and its tips are gauges with zeros of their own, and run equally fast. */
export const instrumentOf = (gauge: string): string => (gauge.endsWith(JAWS) ? gauge.slice(0, -JAWS.length) : gauge);

const CALIPER = /cal+ip/i;
const LONG_MM = 150;

/**
 * The limit of error of a gauge that nobody stated. ISO 13385-1 leaves the figure to the maker, and not below one
 * step; common practice for a caliper that shows 0.01 mm is 0.02 mm up to 150 mm and 0.03 mm beyond (DIN 862 had the same).
 */
function usualLimitMm(longestMm: number, stepMm: number): number {
  return Math.max(longestMm > LONG_MM ? 0.03 : 0.02, stepMm);
}

const LIMIT_BECAUSE =
  'none was stated: what ISO 13385-1 calls the maximum permissible error, as makers of calipers usually state it; --gauge-limit-mm states another';

/** Every gauge that was used. A limit said in one session holds for the gauge in all of them; the widest counts. */
export function gaugesOf(
  lengths: readonly FitLength[],
  sessions: readonly ReadingSession[],
  limitMm: number | undefined,
) {
  return [...new Set(lengths.map(({ gauge }) => gauge))].map((name) => {
    const own = lengths.filter(({ gauge }) => gauge === name);
    const limitsGiven = sessions.flatMap(
      ({ gaugeLimitsMm }) => gaugeLimitsMm?.[name] ?? gaugeLimitsMm?.[instrumentOf(name)] ?? [],
    );
    const stated = limitsGiven.length > 0 ? Math.max(...limitsGiven, limitMm ?? 0) : limitMm;
    const longestMm = Math.max(...own.map(({ valueMm }) => valueMm));
    const stepMm = Math.max(...own.map(({ resolutionMm }) => resolutionMm));
    const zeroWithinMm = usualLimitMm(longestMm, stepMm);
    const isLengths = own.some(({ kind }) => kind !== 'vernier');
    const isUsual = isLengths && stated === undefined && CALIPER.test(name);
    return {
      name,
      /** Its readings may be off together by this much, mm; undefined: nothing was said. */
      limitMm: isUsual ? zeroWithinMm : isLengths ? stated : undefined,
      /** Where the limit comes from, when nobody stated it. */
      limitBecause: isUsual ? LIMIT_BECAUSE : undefined,
      /** Where nothing was said: what its zero lies within all the same, mm. */
      zeroWithinMm,
    };
  });
}

/** Directions that an instrument's spans may be a gauge of their own in. */
export type Direction = 'X' | 'Y' | 'slanted';
export const AXES = ['X', 'Y'] as const;

/** The name of an instrument's gauge for spans in one direction, as scans write it and the fit knows it. */
export const spansGauge = (instrument: string, direction: Direction): string => `${instrument} spans ${direction}`;

/** Whether how fast it runs is told anew each time, from a reference or from the film: so it is with every scan. */
export const isToldAnew = (name: string): boolean => /^scanner spans\b/.test(name);

/** Of a gauge that reads spans in one direction alone, and is named so: `scanner spans slanted` is the scanner's. */
export function directionOf(
  lengths: readonly FitLength[],
  name: string,
): { readonly instrument: string; readonly direction: Direction } | undefined {
  const [, instrument, direction] = /^(.+) spans (X|Y|slanted)$/.exec(name) ?? [];
  if (instrument === undefined) return undefined;
  const along = (length: FitLength): string => axisAlong(length)?.toUpperCase() ?? 'slanted';
  const only = lengths.every((length) => length.gauge !== name || along(length) === direction);
  return only ? { instrument, direction: direction as Direction } : undefined;
}

/** The lengths that were read on a coupon, each with its gauge, and as that was `named`, if it was. */
export function lengthsReadIn({
  coupon,
  features,
  readings,
}: Pick<ReadingSession, 'coupon' | 'features' | 'readings'>) {
  const byId = new Map(features.map((feature) => [feature.id, feature]));
  return readings.flatMap(({ feature: id, gauge: named, readingMm, ...rest }) => {
    const feature = byId.get(id);
    if (!feature || !('from' in feature) || readingMm === undefined) return [];
    return [{ ...rest, feature, readingMm, named, gauge: gaugeName(named, coupon, feature) }];
  });
}

/** Names of the gauges that a session's readings were taken with. */
export const gaugesIn = (session: ReadingSession): string[] => [
  ...new Set(lengthsReadIn(session).map(({ gauge }) => gauge)),
];

/** Gauges whose readings say themselves how sure they are, as a scan's do: no hand is in these. */
export const instrumentsIn = (sessions: readonly ReadingSession[]): ReadonlySet<string> =>
  new Set(sessions.flatMap(lengthsReadIn).flatMap(({ gauge, uncertaintyMm }) => (uncertaintyMm === undefined ? [] : gauge))); // biome-ignore format: one thought

/** Known only to lie within ± limit: a uniform distribution (GUM, JCGM 100:2008, 4.3.7). */
export const uniformSd = (limitMm: number): number => limitMm / Math.sqrt(3);

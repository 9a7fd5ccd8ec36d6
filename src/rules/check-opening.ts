import type { Limits, Paste } from './limits.js';
import type { Measure } from './measure.js';

const FINDING_CODES = [
  'OVERLAP',
  'ISLAND_LOOSE',
  'OPENING_SMALL',
  'AREA_RATIO',
  'ASPECT_RATIO',
  'POWDER',
  'WEB_SMALL',
  'WEB_BELOW_FILM',
] as const;

export type FindingCode = (typeof FINDING_CODES)[number];

/** One rule held against one opening. */
export interface Finding {
  readonly code: FindingCode;
  readonly passes: boolean;
  /** Passes, but by so little that a rougher wall than a metal foil's may fail it. */
  readonly near: boolean;
  readonly value: number;
  readonly limit: number;
  /** `mm`, or empty for a ratio. */
  readonly unit: 'mm' | '';
  /** One sentence with both numbers. */
  readonly reason: string;
  readonly source: string;
}

/** What the findings are worked out from. */
export interface FindingContext {
  readonly thicknessMm: number;
  readonly limits: Limits;
  readonly paste: Paste;
  readonly minOpeningMm?: number;
  readonly minWebMm?: number;
}

/**
 * Openings come on a grid of 1 nm and numbers such as 0.15 / 0.10 are no binary fractions: a figure counts as reaching
 * its limit when it is short of it by no more than this share.
 */
const REACHES = 2e-5;

/** Whether `value >= limit`, with the slack of the coordinates. */
export const reaches = (value: number, limit: number): boolean => value >= limit * (1 - REACHES);

const mm = (value: number): string => `${value.toFixed(3)} mm`;

/** Ratios of one opening on a film. */
export interface Ratios {
  /** Open area / (perimeter x thickness). */
  readonly areaRatio: number;
  /** Narrowest width / thickness; only for openings longer than about five widths. */
  readonly aspectRatio?: number;
}

/**
 * Area ratio of any shape (R. Lasky, "The Area Ratio for Odd-Shaped Stencil Apertures"), and the aspect ratio of IPC-7525
 * where the length exceeds five widths.
 */
export function openingRatios(measure: Measure, thicknessMm: number, limits: Limits): Ratios {
  const areaRatio = measure.perimeterMm > 0 ? measure.areaMm2 / (measure.perimeterMm * thicknessMm) : 0;
  const long = measure.lengthMm > limits.longFromWidths.value * measure.narrowestMm;
  return long ? { areaRatio, aspectRatio: measure.narrowestMm / thicknessMm } : { areaRatio };
}

/**
 * Holds one opening against every rule that applies to it.
 *
 * @param webMm - film to the nearest neighbour; 0 when they overlap; undefined for a lone opening
 */
export function openingFindings(
  measure: Measure,
  ratios: Ratios,
  webMm: number | undefined,
  islands: number,
  context: FindingContext,
): Finding[] {
  const { thicknessMm, limits, paste, minOpeningMm, minWebMm } = context;
  const { narrowestMm } = measure;
  const findings: Finding[] = [];
  const hold = (
    code: FindingCode,
    value: number,
    limit: number,
    unit: 'mm' | '',
    source: string,
    say: (number: string, passes: boolean) => string,
  ): void => {
    const passes = reaches(value, limit);
    const near = passes && !reaches(value, limit * (1 + limits.nearPercent.value / 100));
    const number = unit === 'mm' ? mm(value) : value.toFixed(value < 10 ? 3 : 1);
    findings.push({ code, passes, near, value, limit, unit, reason: say(number, passes), source });
  };
  const than = (passes: boolean, below: string): string => (passes ? 'reaches' : below);

  const fail = (code: FindingCode, value: number, unit: 'mm' | '', reason: string): void => {
    findings.push({ code, passes: false, near: false, value, limit: 0, unit, reason, source: 'geometry' });
  };
  if (webMm === 0) fail('OVERLAP', 0, 'mm', 'It touches or overlaps another opening: no film is left between them.');
  if (islands > 0) {
    const [pieces, hang] = islands === 1 ? ['A piece', 'hangs'] : [`${islands} pieces`, 'hang'];
    fail('ISLAND_LOOSE', islands, '', `${pieces} of film inside it ${hang} on nothing and will fall out.`);
  }
  hold('AREA_RATIO', ratios.areaRatio, limits.areaRatio.value, '', limits.areaRatio.source, (n, ok) => {
    return `The area ratio ${n} ${than(ok, 'is below')} ${limits.areaRatio.value}: area ${measure.areaMm2.toFixed(4)} mm² over walls of ${measure.perimeterMm.toFixed(3)} x ${thicknessMm} mm.`;
  });
  if (ratios.aspectRatio !== undefined) {
    hold('ASPECT_RATIO', ratios.aspectRatio, limits.aspectRatio.value, '', limits.aspectRatio.source, (n, ok) => {
      return `The aspect ratio ${n} ${than(ok, 'is below')} ${limits.aspectRatio.value}: width ${mm(narrowestMm)} over film of ${thicknessMm} mm.`;
    });
  }
  const grains = limits.grainsAcross.value;
  const grainSource = `${limits.grainsAcross.source}; ${paste.grainSource}`;
  hold('POWDER', narrowestMm, grains * paste.largestGrainMm, 'mm', grainSource, (n, ok) => {
    const limit = mm(grains * paste.largestGrainMm);
    return `The width ${n} ${than(ok, 'is below')} ${limit}: ${grains} of the largest grains of ${paste.type} powder (${paste.largestGrainMm} mm).`;
  });
  if (minOpeningMm !== undefined) {
    hold('OPENING_SMALL', narrowestMm, minOpeningMm, 'mm', 'profile: smallest opening that opened', (n, ok) => {
      return `The width ${n} ${than(ok, 'is below')} ${mm(minOpeningMm)}, the smallest opening that this laser opened in this film.`;
    });
  }
  for (const [web, where] of [
    [webMm, 'to the nearest opening'],
    [measure.ownWebMm, 'that the opening itself leaves standing'],
  ] as const) {
    if (web === undefined || web === 0) continue;
    if (minWebMm !== undefined) {
      hold('WEB_SMALL', web, minWebMm, 'mm', 'profile: smallest web that stood', (n, ok) => {
        return `The web ${where}, ${n}, ${than(ok, 'is below')} ${mm(minWebMm)}, the smallest that stood in this film.`;
      });
    }
    const least = limits.webPerThickness.value * thicknessMm;
    hold('WEB_BELOW_FILM', web, least, 'mm', limits.webPerThickness.source, (n, ok) => {
      return `The web ${where}, ${n}, ${than(ok, 'is thinner than')} ${mm(least)}${limits.webPerThickness.value === 1 ? ", the film's own thickness" : ''}.`;
    });
  }
  return findings;
}

/** How far a finding is inside (above 1) or outside (below 1) its limit. */
export function margin(finding: Finding): number {
  if (finding.limit > 0) return finding.value / finding.limit;
  return finding.passes ? Infinity : 0;
}

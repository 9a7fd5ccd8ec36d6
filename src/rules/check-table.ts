import { csvText } from '../csv-text.js';
import type { CheckResult, OpeningCheck } from './check.js';

/** Columns of the CSV, in order. Also the names in which a person reads them. */
const CHECK_COLUMNS = [
  'opening',
  'component',
  'pin',
  'centre_x_mm',
  'centre_y_mm',
  'width_mm',
  'height_mm',
  'angle_deg',
  'shape',
  'narrowest_mm',
  'area_mm2',
  'perimeter_mm',
  'area_ratio',
  'aspect_ratio',
  'web_mm',
  'web_to',
  'paste_mm3',
  'paste_mg',
  'verdict',
  'reason',
  'source',
] as const;

export type CheckRow = Record<(typeof CHECK_COLUMNS)[number], string>;

const digits = (value: number | undefined, places: number): string =>
  value === undefined ? '' : value.toFixed(places);

/** Why an opening fails, or what it passes by little; empty when all is well. */
export function reasonsOf(check: OpeningCheck): { reason: string; source: string } {
  const failed = check.findings.filter(({ passes }) => !passes);
  const listed = failed.length > 0 ? failed : check.findings.filter(({ near }) => near);
  const prefix = failed.length === 0 && listed.length > 0 ? 'Near its limit: ' : '';
  return {
    reason: prefix + listed.map(({ reason }) => reason).join(' '),
    source: [...new Set(listed.map(({ source }) => source))].join('; '),
  };
}

/** One opening as text, ready for a table or a CSV file. */
export function checkRow(check: OpeningCheck): CheckRow {
  return {
    opening: String(check.number),
    component: check.component ?? '',
    pin: check.pin ?? '',
    centre_x_mm: digits(check.centre[0], 4),
    centre_y_mm: digits(check.centre[1], 4),
    width_mm: digits(check.widthMm, 4),
    height_mm: digits(check.heightMm, 4),
    angle_deg: digits(check.angleDeg, 2),
    shape: check.shape,
    narrowest_mm: digits(check.narrowestMm, 4),
    area_mm2: digits(check.areaMm2, 5),
    perimeter_mm: digits(check.perimeterMm, 4),
    area_ratio: digits(check.areaRatio, 3),
    aspect_ratio: digits(check.aspectRatio, 3),
    web_mm: digits(check.webMm, 4),
    web_to: check.webTo === undefined ? '' : String(check.webTo),
    paste_mm3: digits(check.pasteMm3, 6),
    paste_mg: digits(check.pasteMg, 5),
    verdict: check.verdict,
    ...reasonsOf(check),
  };
}

/** All openings as CSV, in the order of the artwork. */
export function checkCsv(result: CheckResult): string {
  return csvText(CHECK_COLUMNS, result.openings.map(checkRow));
}

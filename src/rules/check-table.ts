import { kept } from '../kept.js';
import { csvText } from '../text.js';
import type { CheckResult, OpeningCheck } from './check.js';
import type { Finding } from './check-opening.js';

const digits = (value: number | undefined, places: number): string =>
  value === undefined ? '' : value.toFixed(places);

/** Columns of the CSV, in order, and what stands in them. */
const CHECK_COLUMNS: Readonly<Record<string, (check: OpeningCheck) => string>> = {
  opening: ({ number }) => String(number),
  component: ({ component }) => component ?? '',
  pin: ({ pin }) => pin ?? '',
  centre_x_mm: ({ centre }) => digits(centre[0], 4),
  centre_y_mm: ({ centre }) => digits(centre[1], 4),
  width_mm: ({ widthMm }) => digits(widthMm, 4),
  height_mm: ({ heightMm }) => digits(heightMm, 4),
  angle_deg: ({ angleDeg }) => digits(angleDeg, 2),
  shape: ({ shape }) => shape,
  narrowest_mm: ({ narrowestMm }) => digits(narrowestMm, 4),
  area_mm2: ({ areaMm2 }) => digits(areaMm2, 5),
  perimeter_mm: ({ perimeterMm }) => digits(perimeterMm, 4),
  area_ratio: ({ areaRatio }) => digits(areaRatio, 3),
  aspect_ratio: ({ aspectRatio }) => digits(aspectRatio, 3),
  web_mm: ({ webMm }) => digits(webMm, 4),
  web_to: ({ webTo }) => digits(webTo, 0),
  paste_mm3: ({ pasteMm3 }) => digits(pasteMm3, 6),
  paste_mg: ({ pasteMg }) => digits(pasteMg, 5),
  verdict: ({ verdict }) => verdict,
  reason: (check) => reasonsOf(check).reason,
  source: (check) => reasonsOf(check).source,
};

interface Reasons {
  readonly reason: string;
  readonly source: string;
}

/** Openings of equal figures share their findings. */
const known = new WeakMap<readonly Finding[], Reasons>();

/** Why an opening fails, or what it passes by little; empty when all is well. */
export function reasonsOf({ findings }: OpeningCheck): Reasons {
  return kept(known, findings, () => reasonsIn(findings));
}

function reasonsIn(findings: readonly Finding[]): Reasons {
  const failed = findings.filter(({ passes }) => !passes);
  const listed = failed.length > 0 ? failed : findings.filter(({ near }) => near);
  const prefix = failed.length === 0 && listed.length > 0 ? 'Near its limit: ' : '';
  return {
    reason: prefix + listed.map(({ reason }) => reason).join(' '),
    source: [...new Set(listed.map(({ source }) => source))].join('; '),
  };
}

/** All openings as CSV, in the order of the artwork. */
export const checkCsv = (result: CheckResult): string => csvText(CHECK_COLUMNS, result.openings);

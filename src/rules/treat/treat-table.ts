import { csvText } from '../../csv-text.js';
import type { TreatResult } from './treat.js';

/** Columns of the CSV, in order. */
const TREAT_COLUMNS = [
  'opening',
  'rule',
  'action',
  'before_width_mm',
  'before_height_mm',
  'before_area_mm2',
  'after_width_mm',
  'after_height_mm',
  'after_area_mm2',
  'pieces',
  'area_percent',
  'centre_moved_mm',
  'note',
] as const;

type TreatRow = Record<(typeof TREAT_COLUMNS)[number], string>;

const mm = (value: number): string => value.toFixed(4);

/** One row a change, a refusal or an untouched opening, by opening: every opening is in it at least once. */
function treatRows(result: TreatResult): TreatRow[] {
  const empty = Object.fromEntries(TREAT_COLUMNS.map((column) => [column, ''])) as TreatRow;
  const rows: [number, TreatRow][] = [];
  for (const { opening, rule, action, before, after, areaPercent, centreMovedMm, note = '' } of result.changes) {
    rows.push([
      opening,
      {
        opening: String(opening),
        rule,
        action,
        before_width_mm: mm(before.widthMm),
        before_height_mm: mm(before.heightMm),
        before_area_mm2: before.areaMm2.toFixed(5),
        after_width_mm: mm(after.widthMm),
        after_height_mm: mm(after.heightMm),
        after_area_mm2: after.areaMm2.toFixed(5),
        pieces: String(after.pieces),
        area_percent: areaPercent.toFixed(2),
        centre_moved_mm: mm(centreMovedMm),
        note,
      },
    ]);
  }
  for (const { opening, rule, reason } of result.refusals) {
    rows.push([opening, { ...empty, opening: String(opening), rule, action: 'stays', note: reason }]);
  }
  const listed = new Set(rows.map(([opening]) => opening));
  for (const { opening, fate, areaBeforeMm2, areaAfterMm2 } of result.accounts) {
    if (listed.has(opening)) continue;
    const areas = { before_area_mm2: areaBeforeMm2.toFixed(5), after_area_mm2: areaAfterMm2.toFixed(5) };
    rows.push([
      opening,
      { ...empty, opening: String(opening), action: fate, ...areas, pieces: '1', area_percent: '100.00' },
    ]);
  }
  return rows.sort(([p], [q]) => p - q).map(([, row]) => row);
}

/** The list of changes as CSV. */
export function treatCsv(result: TreatResult): string {
  return csvText(TREAT_COLUMNS, treatRows(result));
}

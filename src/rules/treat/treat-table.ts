import { csvText } from '../../text.js';
import type { RuleChange, TreatResult } from './treat.js';

/** A change, or an opening that stays as it is. */
type Row = Pick<RuleChange, 'opening'> & Partial<Omit<RuleChange, 'action'>> & { readonly action: string };

/** A size that is not told is no number. */
const mm = (value = Number.NaN): string => (Number.isNaN(value) ? '' : value.toFixed(4));

/** Columns of the CSV, in order, and what stands in them. */
const TREAT_COLUMNS: Readonly<Record<string, (row: Row) => string>> = {
  opening: ({ opening }) => String(opening),
  rule: ({ rule = '' }) => rule,
  action: ({ action }) => action,
  before_width_mm: ({ before }) => mm(before?.widthMm),
  before_height_mm: ({ before }) => mm(before?.heightMm),
  before_area_mm2: ({ before }) => before?.areaMm2.toFixed(5) ?? '',
  after_width_mm: ({ after }) => mm(after?.widthMm),
  after_height_mm: ({ after }) => mm(after?.heightMm),
  after_area_mm2: ({ after }) => after?.areaMm2.toFixed(5) ?? '',
  pieces: ({ after }) => String(after?.pieces ?? ''),
  area_percent: ({ areaPercent }) => areaPercent?.toFixed(2) ?? '',
  centre_moved_mm: ({ centreMovedMm }) => mm(centreMovedMm),
  note: ({ note = '' }) => note,
};

/** The list of changes as CSV: one row a change, a refusal or an untouched opening, so that every opening is in it. */
export function treatCsv({ changes, refusals, accounts }: TreatResult): string {
  const told: Row[] = [
    ...changes,
    ...refusals.map(({ reason, ...one }) => ({ ...one, action: 'stays', note: reason })),
  ];
  const listed = new Set(told.map(({ opening }) => opening));
  const others = accounts.filter(({ opening }) => !listed.has(opening));
  const rows = [
    ...told,
    ...others.map(({ opening, fate, areaBeforeMm2, areaAfterMm2 }): Row => {
      const size = { widthMm: Number.NaN, heightMm: Number.NaN, pieces: 1 };
      return {
        ...{ opening, action: fate, areaPercent: 100 },
        before: { ...size, areaMm2: areaBeforeMm2 },
        after: { ...size, areaMm2: areaAfterMm2 },
      };
    }),
  ];
  return csvText(
    TREAT_COLUMNS,
    rows.sort((p, q) => p.opening - q.opening),
  );
}

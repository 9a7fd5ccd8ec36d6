import type { Feature } from '../../coupon/features.js';
import { MM_PER_INCH } from '../../inch.js';
import type { Ink } from '../ink.js';

const LEAST_ROW_MM = 4.4;
const GOOD_ROW_MM = 5.6;
const FAIR_ROW_MM = 4.9;
const HEAD_MM = 4;
/** Narrower than this nobody can write a number with three decimals, or an outcome. */
const LEAST_BOX_MM = 11;
const AFTER_BOX_MM = 3;
/** Line of a box that is filled in first. */
const FIRST_LINE_MM = 0.5;

/** The nominal size in millimetres stands above the one in inches. */
const INCH_RAISE_MM = 0.9;
const INCH_DROP_MM = 1.2;

/** How the boxes to write in are laid out. */
export interface TablePlan {
  readonly columns: number;
  readonly rows: number;
  readonly rowMm: number;
  readonly heightMm: number;
}

/**
 * As few columns as the height allows, because wide boxes are easier to write in, but no taller than needed: what the
 * table leaves goes to the drawing. No more columns than leave a box to write in; what has no box goes on the next page.
 *
 * @param mostColumns - how many are wide enough, see {@link columnsFor}
 */
export function planTable(count: number, mostHeightMm: number, mostColumns: number): TablePlan {
  for (let columns = Math.min(3, mostColumns); columns <= mostColumns; columns += 1) {
    const rows = Math.ceil(count / columns);
    const rowMm = Math.min(GOOD_ROW_MM, (mostHeightMm - HEAD_MM) / rows);
    const least = columns < 5 ? GOOD_ROW_MM : columns === 5 ? FAIR_ROW_MM : LEAST_ROW_MM;
    if (rowMm >= least) {
      return { columns, rows, rowMm, heightMm: HEAD_MM + rows * rowMm };
    }
  }
  const rows = Math.max(1, Math.floor((mostHeightMm - HEAD_MM) / LEAST_ROW_MM));
  return { columns: mostColumns, rows, rowMm: LEAST_ROW_MM, heightMm: HEAD_MM + rows * LEAST_ROW_MM };
}

/** What is known of a feature before it is read. */
function expected(feature: Feature): string {
  if (feature.kind === 'cell') return `${feature.powerPercent} %, ${feature.speedMmS} mm/s`;
  if (feature.kind === 'vernier') {
    return `${feature.measures === 'kerf' ? 'kerf' : 'row shift'} ${feature.axis.toUpperCase()}, line 1 to ${feature.lines}, zero ${feature.zeroLine}`;
  }
  return feature.nominalMm.toFixed(feature.nominalMm < 10 ? 3 : 2);
}

function heading(features: readonly Feature[]): [string, string] {
  const kinds = new Set(features.map((feature) => feature.kind));
  if (kinds.has('cell')) return ['setting', 'outcome'];
  if (kinds.has('vernier')) return ['range', 'line'];
  return ['nominal', 'mm'];
}

/** Widths of the words before a box. */
function wordsMm(ink: Ink, features: readonly Feature[]): { idMm: number; knownMm: number } {
  return {
    idMm: 1.2 + Math.max(...features.map(({ id }) => ink.widthMm(id, { sizePt: 7, bold: true })), 8),
    knownMm: 1.5 + Math.max(...features.map((feature) => ink.widthMm(expected(feature), { sizePt: 6.5 })), 9),
  };
}

/** How many columns have room for the words and a box to write in, at most 6. */
export function columnsFor(ink: Ink, features: readonly Feature[], widthMm: number): number {
  const { idMm, knownMm } = wordsMm(ink, features);
  return Math.max(1, Math.min(6, Math.floor(widthMm / (idMm + knownMm + LEAST_BOX_MM + AFTER_BOX_MM))));
}

/** Draws a box for each feature, column by column, from the top left corner down; the `first` ones heavy. */
export function drawTable(
  ink: Ink,
  features: readonly Feature[],
  plan: TablePlan,
  field: { x: number; top: number; width: number },
  first = 0,
): void {
  const columnMm = field.width / plan.columns;
  const [known, wanted] = heading(features);
  const { idMm, knownMm } = wordsMm(ink, features);
  features.slice(0, plan.columns * plan.rows).forEach((feature, i) => {
    const column = Math.floor(i / plan.rows);
    const row = i % plan.rows;
    const x = field.x + column * columnMm;
    const y = field.top - HEAD_MM - (row + 1) * plan.rowMm;
    if (row === 0) {
      ink.text('feature', [x, field.top - 2.8], { sizePt: 6, colour: 'rule' });
      ink.text(known, [x + idMm, field.top - 2.8], { sizePt: 6, colour: 'rule' });
      ink.text(wanted, [x + idMm + knownMm, field.top - 2.8], { sizePt: 6, colour: 'rule' });
    }
    const base = y + plan.rowMm / 2 - 0.85;
    ink.text(feature.id, [x, base], { sizePt: 7, bold: true });
    const inch = 'nominalMm' in feature ? `${(feature.nominalMm / MM_PER_INCH).toFixed(4)} in` : undefined;
    ink.text(expected(feature), [x + idMm, inch ? base + INCH_RAISE_MM : base], { sizePt: inch ? 6 : 6.5 });
    if (inch) ink.text(inch, [x + idMm, base - INCH_DROP_MM], { sizePt: 6 });
    const left = x + idMm + knownMm;
    ink.box(left, y + 0.3, columnMm - idMm - knownMm - AFTER_BOX_MM, plan.rowMm - 0.6, {
      lineMm: i < first ? FIRST_LINE_MM : 0.15,
    });
  });
}

import type { Feature } from '../coupon/features.js';
import type { Coupon } from '../coupon/types.js';
import { present } from '../kept.js';
import { csvCell, visible } from '../text.js';
import type { ReadingsSheet } from './fill-in.js';
import { FORM_LINES } from './readings-form.js';
import { FORM_COLUMNS, type ReadingColumn } from './types.js';

/** What goes into the columns, by what there is to read. */
function columnHelp(features: readonly Feature[]): string[] {
  const has = (kinds: readonly Feature['kind'][]): boolean => features.some((feature) => kinds.includes(feature.kind));
  const isMeasured = has(['span', 'opening', 'web']);
  return present(
    isMeasured && 'reading_mm: what you measured, mm. Measure again? Add a row with the same feature.',
    isMeasured && 'resolution_mm: one step or division of the gauge, mm (a digital caliper: 0.01).',
    isMeasured && 'column gauge: which one, if more than one is used, such as caliper or loupe; else leave it empty.',
    has(['opening', 'web']) &&
      'outcome: gone for a web that burnt away, closed for an opening that is not through; else leave it empty.',
    has(['vernier']) && 'reading_mm of a vernier: the number of the line, halves allowed.',
    has(['cell']) &&
      'outcome: uncut, partial (through in places), through (clean), or marked (through, and edges or base are damaged).',
    'Rows without a reading and without an outcome do not count. Decimal point or comma, as you like.',
    'Write how it was cut behind the colons of the lines on top, or into the cells beside them: it goes into the profile.',
  );
}

const rowOf = (cells: Partial<Record<ReadingColumn, string>>): string =>
  FORM_COLUMNS.map((column) => csvCell(cells[column] ?? '')).join(',');

/** Begins the line above rows that stand in the order of a plan. */
const READ_FIRST = 'Read these';

/** Whether the rows of a readings file were put in the order of a plan, today's or an older one. */
export const isPlanned = ({ records }: ReadingsSheet): boolean =>
  records.some(({ isComment, text }) => isComment && text.includes(`# ${READ_FIRST} `));

/** In which order to read, and how many are enough. */
export interface ReadingOrder {
  readonly features: readonly Feature[];
  readonly first: number;
  /** Whether they reach what is aimed at. */
  readonly reaches: boolean;
  /** What the first ones are enough for, in words. */
  readonly enoughFor: string;
  /** So many that follow them are for a caliper, in place of those spans among the first that its jaws can't grip. */
  readonly forJaws: number;
}

/**
 * The readings file (contract 2) of a coupon, to be filled in: the header, the form that says how it was cut, a row for
 * every feature in the order of reading with the sentence that says what to measure, and what goes into the columns. The header comes first:
 * spreadsheets take the first line for it, and put what they like around lines above it.
 */
export function blankReadings(coupon: Coupon, order?: ReadingOrder): string {
  const { features } = coupon.features;
  const form = FORM_LINES.map(([line, example]) => `# ${line} (${example}):`);
  const rows = (order?.features ?? features).map((feature) => rowOf({ feature: feature.id, note: feature.say }));
  const body = order
    ? [
        `# ${READ_FIRST} ${order.first} first: ${order.enoughFor}.`,
        ...rows.slice(0, order.first),
        ...(order.forJaws > 0 ? ['# With a caliper: these in place of the spans along X and Y above.'] : []),
        ...rows.slice(order.first, order.first + order.forJaws),
        '# These make it surer. apertrue fit says which to read next, and what they would bring.',
        ...rows.slice(order.first + order.forJaws),
      ]
    : rows;
  const notes = [`${coupon.name}: ${coupon.title}`, ...coupon.jobs, ...columnHelp(features)];
  return `${[FORM_COLUMNS.join(','), ...form, ...body, ...notes.map((line) => `# ${visible(line)}`)].join('\n')}\n`;
}

import { FORM_LINES } from '../readings/readings-form.js';
import type { Feature } from './features.js';
import type { Coupon } from './types.js';

const HEADER = 'feature,reading_mm,outcome,resolution_mm,note';

/** What goes into the columns, by what there is to read. */
function columnHelp(features: readonly Feature[]): string[] {
  const has = (kinds: readonly Feature['kind'][]): boolean => features.some((feature) => kinds.includes(feature.kind));
  const lines: string[] = [];
  if (has(['span', 'opening', 'web'])) {
    lines.push(
      'reading_mm: what you measured, mm. Measure again? Add a row with the same feature.',
      'resolution_mm: one step or division of the gauge, mm (a digital caliper: 0.01).',
    );
  }
  if (has(['opening', 'web'])) {
    lines.push(
      'outcome: gone for a web that burnt away, closed for an opening that is not through; else leave it empty.',
    );
  }
  if (has(['vernier'])) lines.push('reading_mm of a vernier: the number of the line, halves allowed.');
  if (has(['cell'])) {
    lines.push(
      'outcome: uncut, partial (through in places), through (clean), or marked (through, and edges or base are damaged).',
    );
  }
  return [
    ...lines,
    'Rows without a reading and without an outcome do not count. Decimal point or comma, as you like.',
    'Write how it was cut behind the colons of the lines on top, or into the cells beside them: it goes into the profile.',
  ];
}

const quote = (text: string): string => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);

/**
 * The readings file (contract 2) of a coupon, to be filled in: the header, the form that says how it was cut, a row for
 * every feature with the sentence that says what to measure, and what goes into the columns. The header comes first:
 * spreadsheets take the first line for it, and put what they like around lines above it.
 */
export function blankReadings(coupon: Coupon): string {
  const { features } = coupon.features;
  const form = FORM_LINES.map(([line, example]) => `# ${line} (${example}):`);
  const rows = features.map((feature) => `${feature.id},,,,${quote(feature.say)}`);
  const notes = [`${coupon.name}: ${coupon.title}`, ...coupon.jobs, ...columnHelp(features)];
  return `${[HEADER, ...form, ...rows, ...notes.map((line) => `# ${line}`)].join('\n')}\n`;
}

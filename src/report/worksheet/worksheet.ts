import type { PDFDocument } from 'pdf-lib';
import { type Feature, isForJaws } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { dpiWords } from '../../inch.js';
import { newPdf, type PdfFonts, PT_PER_MM, pdfBytes, pdfFonts } from '../../pdf-file.js';
import type { ReadingOrder } from '../../readings/blank-readings.js';
import { wrapWords } from '../../wrap-words.js';
import { type Ink, inkOn, PAPERS, type Paper } from '../ink.js';
import { addOperators } from '../pdf-paths.js';
import { drawView } from './draw-view.js';
import { columnsFor, drawTable, planTable } from './table.js';
import { planViews } from './views.js';

const MARGIN_MM = 10;

/**
 * The sheet that goes to the bench: the coupon with an arrow pair at exactly the two edges of everything that is measured, a
 * box to write in for each, the settings, the cautions. One page; more only for what has no box on the first.
 *
 * @param coupon - from `generateCoupon`
 * @param options.paper - `a4` (default) or `letter`
 * @param options.order - in which the boxes stand; the first ones are drawn heavy
 * @returns a PDF
 */
export async function writeWorksheet(
  coupon: Coupon,
  { paper = 'a4', order }: { readonly paper?: Paper; readonly order?: ReadingOrder } = {},
): Promise<Uint8Array> {
  const document = await newPdf(`${coupon.name} worksheet`);
  const fonts = await pdfFonts(document);
  const all = order?.features ?? coupon.features.features;
  const drawRest = (left: readonly Feature[], first: boolean): readonly Feature[] =>
    drawPage(document, coupon, paper, fonts, left, first, order && { ...order, first: order.first - (all.length - left.length) }); // biome-ignore format: one call
  let left = drawRest(all, true);
  while (left.length > 0) left = drawRest(left, false);
  return pdfBytes(document);
}

/** Draws one page and returns the features for which it had no box. */
function drawPage(
  document: PDFDocument,
  coupon: Coupon,
  paper: Paper,
  fonts: PdfFonts,
  features: readonly Feature[],
  first: boolean,
  order: ReadingOrder | undefined,
): readonly Feature[] {
  const [width, height] = PAPERS[paper];
  const page = document.addPage([width * PT_PER_MM, height * PT_PER_MM]);
  const operators: string[] = [];
  const ink = inkOn(page, fonts, operators);
  const field = { x: MARGIN_MM, width: width - 2 * MARGIN_MM };
  let top = height - MARGIN_MM;
  top = drawHead(ink, coupon, field, top);
  const bottom = first ? drawFoot(ink, coupon, field, order) : MARGIN_MM;
  const most = first ? (top - bottom) * 0.5 : top - bottom - 4;
  const table = planTable(features.length, most, columnsFor(ink, features, field.width));
  drawTable(ink, features, table, { ...field, top: first ? bottom + table.heightMm + 1 : top }, order?.first);
  if (first) {
    const low = bottom + table.heightMm + 3;
    for (const view of planViews(coupon, { x: field.x, y: low, width: field.width, height: top - low })) {
      drawView(ink, coupon, view);
    }
  }
  addOperators(page, operators);
  return features.slice(table.columns * table.rows);
}

function drawHead(ink: Ink, coupon: Coupon, field: { x: number; width: number }, top: number): number {
  const { canvas } = coupon;
  const title = `${coupon.name}: ${coupon.title}`;
  const fits = field.width / ink.widthMm(title, { sizePt: 12, bold: true });
  ink.text(title, [field.x, top - 4], { sizePt: Math.min(12, Math.floor(24 * fits) / 2), bold: true });
  const sameway = canvas.pitchXMm === canvas.pitchYMm;
  const pitch = (value: (mm: number) => string): string =>
    sameway ? value(canvas.pitchXMm) : `${value(canvas.pitchXMm)} x ${value(canvas.pitchYMm)}`;
  const mm = (value: number): string => `${Number(value.toFixed(4))}`;
  ink.text(
    `Canvas ${mm(canvas.widthMm)} x ${mm(canvas.heightMm)} mm = ${canvas.widthPx} x ${canvas.heightPx} px; pitch ${pitch(mm)} mm, ${pitch(dpiWords)} dpi. Never resample or fit to page.`,
    [field.x, top - 8.5],
    { sizePt: 7.5 },
  );
  const blanks = ['Machine', 'Film, thickness', 'Power', 'Speed', 'Passes', 'Gauge, resolution', 'Date'];
  const shares = [0.17, 0.2, 0.11, 0.11, 0.1, 0.19, 0.12];
  let x = field.x;
  blanks.forEach((blank, i) => {
    const wide = shares[i] * field.width;
    const used = ink.widthMm(`${blank} `, { sizePt: 7 });
    ink.text(blank, [x, top - 14.5], { sizePt: 7 });
    ink.line([x + used, top - 14.9], [x + wide - 1.5, top - 14.9], 0.15, 'rule');
    x += wide;
  });
  return top - 18.5;
}

/** Breaks a text into lines of at most this width. */
const wrap = (ink: Ink, text: string, widthMm: number, sizePt: number): string[] =>
  wrapWords(text, (line) => ink.widthMm(line, { sizePt }) <= widthMm);

/** How to read each kind, in one line each. */
function readingHelp(features: readonly Feature[]): string[] {
  const kinds = new Set(features.filter((feature) => !isForJaws(feature)).map((feature) => feature.kind));
  const help: string[] = [];
  if (kinds.has('span'))
    help.push('Span: from the edge of one slot to the same-side edge of the other, where the arrow tips stand.');
  if (kinds.has('opening')) help.push('Opening: its width, edge to edge; write "closed" when it is not through.');
  if (kinds.has('web')) help.push('Web: the film left between two openings; write "gone" when it burnt away.');
  if (kinds.has('vernier')) {
    help.push(
      'Kerf combs: the line where the right edge of the upper slot and the left edge of the lower slot are in line; along Y: the upper edge of the left slot and the lower edge of the right slot.',
      'Row shift combs: the line where the left edges of both slots are in line; along Y: the lower edges.',
    );
  }
  if (kinds.has('cell')) help.push('Cell: uncut, partial, through (clean) or marked (through, edges or base damaged).');
  return help;
}

/** A job for every cell would fill the page; the table is in the order of burning already. */
function jobHelp({ jobs, images, imageEnding }: Coupon): readonly string[] {
  if (jobs.length <= 4) return jobs;
  return [
    `Burn the ${jobs.length} jobs in the order of the table: ${images[0].name}.${imageEnding} is its first cell, and so on.`,
  ];
}

/** Steps and cautions, side by side at the foot of the page; returns the height that is left above. */
function drawFoot(ink: Ink, coupon: Coupon, field: { x: number; width: number }, order?: ReadingOrder): number {
  const sizePt = 6.3;
  const lineMm = 2.55;
  const half = (field.width - 6) / 2;
  const plan = order ? [`Read the ${order.first} heavy boxes first: ${order.enoughFor}.`] : [];
  const steps = [...coupon.steps, ...plan, ...jobHelp(coupon), ...readingHelp(coupon.features.features)];
  const columns = [
    { title: 'What to do', lines: steps.flatMap((step, i) => wrap(ink, `${i + 1}. ${step}`, half, sizePt)) },
    { title: 'Cautions', lines: coupon.cautions.flatMap((caution) => wrap(ink, `! ${caution}`, half, sizePt)) },
  ];
  const height = Math.max(...columns.map(({ lines }) => lines.length)) * lineMm + 3.5;
  columns.forEach(({ title, lines }, i) => {
    const x = field.x + i * (half + 6);
    ink.text(title, [x, MARGIN_MM + height - 2.5], { sizePt: 7.5, bold: true });
    lines.forEach((line, k) => {
      ink.text(line, [x, MARGIN_MM + height - 3 - (k + 1) * lineMm], { sizePt });
    });
  });
  ink.line([field.x, MARGIN_MM + height + 1.2], [field.x + field.width, MARGIN_MM + height + 1.2], 0.15, 'rule');
  return MARGIN_MM + height + 3;
}

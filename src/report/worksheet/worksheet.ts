import type { PDFDocument } from 'pdf-lib';
import { type Feature, isForJaws } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { present } from '../../kept.js';
import { newPdf, type PdfFonts, PT_PER_MM, pdfBytes, pdfFonts } from '../../pdf-file.js';
import { gaugeOf, type ProjectGauge } from '../../project/project.js';
import type { ReadingOrder } from '../../readings/blank-readings.js';
import { asShown, type GaugeUnit } from '../../readings/length.js';
import { dpiWords, wrapWords } from '../../text.js';
import { type Ink, inkOn, PAPERS, type Paper } from '../ink.js';
import { drawView } from './draw-view.js';
import { planPages } from './views.js';

const MARGIN_MM = 10;

export interface WorksheetOptions {
  readonly paper?: Paper;
  readonly order?: ReadingOrder;
  readonly gauges?: readonly ProjectGauge[];
}

/**
 * The sheet that goes to the bench: the coupon with an arrow pair at exactly the two edges of everything that is measured, a
 * box to write in for each, the settings, the cautions. One page; more for what has no box on the first, and for spans that would cross those on it.
 *
 * @param coupon - from `generateCoupon`
 * @param options.paper - `a4` (default) or `letter`
 * @param options.order - in which the boxes stand; the first ones are drawn heavy
 * @param options.gauges - at hand: sizes stand in what they show; default: in millimetres and inches
 * @returns a PDF
 */
export async function writeWorksheet(
  coupon: Coupon,
  { paper = 'a4', order, gauges = [] }: WorksheetOptions = {},
): Promise<Uint8Array> {
  const document = await newPdf(`${coupon.name} worksheet`);
  const all = order?.features ?? coupon.features.features;
  const sheet: Sheet = { document, coupon, paper, fonts: await pdfFonts(document), order, gauges };
  let left = drawPage(sheet, all, order?.first ?? 0, true);
  while (left.length > 0) left = drawPage(sheet, left, (order?.first ?? 0) - (all.length - left.length), false);
  return pdfBytes(document);
}

/** What all pages share. */
interface Sheet extends Required<Pick<WorksheetOptions, 'paper' | 'gauges'>>, Pick<WorksheetOptions, 'order'> {
  readonly document: PDFDocument;
  readonly coupon: Coupon;
  readonly fonts: PdfFonts;
}

/** A page with the coupon's head; `top` is where that ends. */
function startPage({ document, coupon, paper, fonts }: Sheet) {
  const [width, height] = PAPERS[paper];
  const page = document.addPage([width * PT_PER_MM, height * PT_PER_MM]);
  const ink = inkOn(page, fonts);
  const field = { x: MARGIN_MM, width: width - 2 * MARGIN_MM };
  const top = drawHead(ink, coupon, field, height - MARGIN_MM);
  return { ink, field, top };
}

/**
 * Draws one page, the first with all drawings of the coupon behind it.
 *
 * @param heavy - how many boxes are drawn heavy
 * @returns the features for which it had no box
 */
function drawPage(sheet: Sheet, features: readonly Feature[], heavy: number, first: boolean): readonly Feature[] {
  const { coupon, order, gauges } = sheet;
  const { ink, field, top } = startPage(sheet);
  const bottom = first ? drawFoot(ink, coupon, field, order) : MARGIN_MM;
  const most = first ? (top - bottom) * 0.5 : top - bottom - 4;
  const rows = features.map((feature) => ({ id: feature.id, known: knownOf(feature, gauges) }));
  const widths = wordsMm(ink, rows);
  const table = planTable(features.length, most, columnsFor(widths, field.width));
  const head = headingOf(features, gauges);
  drawTable(
    ink,
    rows,
    head,
    { ...table, ...widths },
    { ...field, top: first ? bottom + table.heightMm + 1 : top },
    heavy,
  );
  if (first) {
    const low = bottom + table.heightMm + 3;
    const [views, ...later] = planPages(
      coupon,
      { ...field, y: low, height: top - low },
      { ...field, y: MARGIN_MM, height: top - MARGIN_MM },
    );
    for (const view of views) drawView(ink, coupon, view);
    for (const nextViews of later) {
      const next = startPage(sheet);
      for (const view of nextViews) drawView(next.ink, coupon, view);
      next.ink.done();
    }
  }
  ink.done();
  return features.slice(table.columns * table.rows);
}

function drawHead(ink: Ink, coupon: Coupon, field: { x: number; width: number }, top: number): number {
  const { canvas } = coupon;
  const title = `${coupon.name}: ${coupon.title}`;
  const fits = field.width / ink.widthOf(title, { sizePt: 12, bold: true });
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
    const used = ink.widthOf(`${blank} `, { sizePt: 7 });
    ink.text(blank, [x, top - 14.5], { sizePt: 7 });
    ink.line([x + used, top - 14.9], [x + wide - 1.5, top - 14.9], 0.15, 'rule');
    x += wide;
  });
  return top - 18.5;
}

/** Breaks a text into lines of at most this width. */
const wrap = (ink: Ink, text: string, widthMm: number, sizePt: number): string[] =>
  wrapWords(text, (line) => ink.widthOf(line, { sizePt }) <= widthMm);

/** How to read each kind, in one line each. */
function readingHelp(features: readonly Feature[]): string[] {
  const kinds = new Set(features.filter((feature) => !isForJaws(feature)).map((feature) => feature.kind));
  return present(
    kinds.has('span') &&
      'Span: from the edge of one slot to the same-side edge of the other, where the arrow tips stand.',
    kinds.has('opening') && 'Opening: its width, edge to edge; write "closed" when it is not through.',
    kinds.has('web') && 'Web: the film left between two openings; write "gone" when it burnt away.',
    kinds.has('vernier') &&
      'Kerf combs: the line where the right edge of the upper slot and the left edge of the lower slot are in line; along Y: the upper edge of the left slot and the lower edge of the right slot.',
    kinds.has('vernier') &&
      'Row shift combs: the line where the left edges of both slots are in line; along Y: the lower edges.',
    kinds.has('cell') && 'Cell: uncut, partial, through (clean) or marked (through, edges or base damaged).',
  );
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

const LEAST_ROW_MM = 4.4;
const GOOD_ROW_MM = 5.6;
const FAIR_ROW_MM = 4.9;
const HEAD_MM = 4;
/** Narrower than this nobody can write a number with three decimals, or an outcome. */
const LEAST_BOX_MM = 11;
const AFTER_BOX_MM = 3;
/** Line of a box that is filled in first. */
const FIRST_LINE_MM = 0.5;

/** Of two lines beside a box, from the base line of one. */
const UPPER_RAISE_MM = 0.9;
const LOWER_DROP_MM = 1.2;

/** How the boxes to write in are laid out. */
export type TablePlan = ReturnType<typeof planTable>;

/**
 * As few columns as the height allows, because wide boxes are easier to write in, but no taller than needed: what the
 * table leaves goes to the drawing. No more columns than leave a box to write in; what has no box goes on the next page.
 *
 * @param mostColumns - how many are wide enough, see {@link columnsFor}
 */
function planTable(count: number, mostHeightMm: number, mostColumns: number) {
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

/** A row of the table before it is read: the id, and on one line or two what is known. */
interface Row {
  readonly id: string;
  readonly known: readonly string[];
}

/** Sizes in what the gauge shows; in inches too where none is known, in millimetres too where it shows none. */
function knownOf(feature: Feature, gauges: readonly ProjectGauge[]): string[] {
  if (feature.kind === 'cell') return [`${feature.powerPercent} %, ${feature.speedMmS} mm/s`];
  if (feature.kind === 'vernier') {
    return [
      `${feature.measures === 'kerf' ? 'kerf' : 'row shift'} ${feature.axis.toUpperCase()}, line 1 to ${feature.lines}, zero ${feature.zeroLine}`,
    ];
  }
  const { nominalMm } = feature;
  const mm = nominalMm.toFixed(nominalMm < 10 ? 3 : 2);
  const shown = (unit: GaugeUnit): string => `${asShown(nominalMm, unit)} ${unit}`;
  const gauge = gaugeOf(feature, gauges);
  if (!gauge) return [mm, shown('in')];
  return gauge.unit ? [shown(gauge.unit), `${mm} mm`] : [`${mm} mm`];
}

function headingOf(features: readonly Feature[], gauges: readonly ProjectGauge[]): [known: string, wanted: string] {
  const kinds = new Set(features.map((feature) => feature.kind));
  if (kinds.has('cell')) return ['setting', 'outcome'];
  if (kinds.has('vernier')) return ['range', 'line'];
  const units = features.flatMap((feature) => {
    const gauge = gaugeOf(feature, gauges);
    return gauge ? [gauge.unit ?? 'mm'] : [];
  });
  return ['nominal', units.length > 0 ? [...new Set(units)].join(' or ') : 'mm or in'];
}

/** Widths of the words before a box. */
function wordsMm(ink: Ink, rows: readonly Row[]) {
  const widest = (words: readonly string[], style: { sizePt: number; bold?: boolean }, least: number): number =>
    Math.max(...words.map((text) => ink.widthOf(text, style)), least);
  return {
    idMm: 1.2 + widest(rows.map(({ id }) => id), { sizePt: 7, bold: true }, 8), // biome-ignore format: one call
    knownMm: 1.5 + widest(rows.flatMap(({ known }) => known), { sizePt: 6.5 }, 9), // biome-ignore format: one call
  };
}

/** How many columns have room for the words and a box to write in, at most 6. */
const columnsFor = ({ idMm, knownMm }: ReturnType<typeof wordsMm>, widthMm: number): number =>
  Math.max(1, Math.min(6, Math.floor(widthMm / (idMm + knownMm + LEAST_BOX_MM + AFTER_BOX_MM))));

/** Draws a box for each row, column by column, from the top left corner down; the `heavy` first ones heavy. */
function drawTable(
  ink: Ink,
  rows: readonly Row[],
  [known, wanted]: readonly [string, string],
  { idMm, knownMm, ...plan }: TablePlan & ReturnType<typeof wordsMm>,
  field: { x: number; top: number; width: number },
  heavy: number,
): void {
  const columnMm = field.width / plan.columns;
  rows.slice(0, plan.columns * plan.rows).forEach((one, i) => {
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
    ink.text(one.id, [x, base], { sizePt: 7, bold: true });
    const [first, second] = one.known;
    ink.text(first, [x + idMm, second ? base + UPPER_RAISE_MM : base], { sizePt: second ? 6 : 6.5 });
    if (second) ink.text(second, [x + idMm, base - LOWER_DROP_MM], { sizePt: 6 });
    const [minX, maxX] = [x + idMm + knownMm, x + columnMm - AFTER_BOX_MM];
    const width = i < heavy ? FIRST_LINE_MM : 0.15;
    ink.box({ minX, minY: y + 0.3, maxX, maxY: y + plan.rowMm - 0.3 }, { line: 'rule', width });
  });
}

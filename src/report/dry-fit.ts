import type { PDFFont, PDFPage } from 'pdf-lib';
import type { Region, Ring } from '../geometry/types.js';

/** What to draw for laying on the board, mm, lower left corner of the sheet at the origin. */
export interface DryFit {
  readonly title: string;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly openings: readonly Region[];
  readonly outlines: readonly Ring[];
  /** Each piece of film on the sheet. */
  readonly pieces: readonly {
    readonly at: readonly [number, number];
    readonly widthMm: number;
    readonly heightMm: number;
  }[];
}

export interface DryFitOptions {
  readonly paper: 'a4' | 'letter';
  /** What the two bars measured on an earlier print, mm: the page is drawn larger or smaller to make up for it. */
  readonly printedMm?: { readonly x: number; readonly y: number };
}

const PT_PER_MM = 72 / 25.4;
const BAR_MM = 100;
const INCHES = 4;
/** Room for the bars and the words below the sheet, and white around everything, mm. */
const FOOT_MM = 34;
const LEFT_MM = 26;
const EDGE_MM = 8;
const PAPER_MM = { a4: [210, 297], letter: [215.9, 279.4] } as const;

interface Pen {
  readonly page: PDFPage;
  readonly font: PDFFont;
  /** From sheet mm to page points, printer's error made up for. */
  x(mm: number): number;
  y(mm: number): number;
}

/**
 * A PDF at true size to print on paper and lay over the board before a film is cut: openings, board outline, and two
 * bars that show whether the printer is true. A sheet that is too large for the paper gets a page of its own size.
 *
 * @returns the PDF's bytes (the same for the same input) and whether the page is larger than the paper
 */
export async function dryFitPdf(
  drawing: DryFit,
  options: DryFitOptions,
): Promise<{ bytes: Uint8Array; ownSize: boolean }> {
  const { PDFDocument, StandardFonts } = await import('pdf-lib');
  const factorX = options.printedMm ? BAR_MM / options.printedMm.x : 1;
  const factorY = options.printedMm ? BAR_MM / options.printedMm.y : 1;
  const needX = (Math.max(drawing.widthMm, BAR_MM + 10) + LEFT_MM + EDGE_MM) * factorX;
  const needY = (Math.max(drawing.heightMm, BAR_MM + 4) + FOOT_MM + EDGE_MM) * factorY;
  const [short, long] = PAPER_MM[options.paper];
  const upright = needX <= short && needY <= long;
  const flat = needX <= long && needY <= short;
  const [widthMm, heightMm] = upright ? [short, long] : flat ? [long, short] : [needX, needY];
  const pdf = await PDFDocument.create({ updateMetadata: false });
  pdf.setTitle(drawing.title);
  const page = pdf.addPage([widthMm * PT_PER_MM, heightMm * PT_PER_MM]);
  const pen: Pen = {
    page,
    font: await pdf.embedFont(StandardFonts.Helvetica),
    x: (mm) => (LEFT_MM + mm) * factorX * PT_PER_MM,
    y: (mm) => (FOOT_MM + mm) * factorY * PT_PER_MM,
  };
  const { pushGraphicsState, popGraphicsState, setLineWidth, setStrokingGrayscaleColor, setFillingGrayscaleColor } =
    await import('pdf-lib');
  page.pushOperators(
    pushGraphicsState(),
    setLineWidth(0.25),
    setStrokingGrayscaleColor(0),
    setFillingGrayscaleColor(0.75),
  );
  for (const region of drawing.openings) await path(pen, [region.outer, ...region.islands], true);
  page.pushOperators(setLineWidth(0.7));
  for (const ring of drawing.outlines) await path(pen, [ring], false);
  page.pushOperators(setLineWidth(0.3), setStrokingGrayscaleColor(0.5));
  for (const { at, widthMm: w, heightMm: h } of drawing.pieces) {
    await path(
      pen,
      [
        [
          [at[0], at[1]],
          [at[0] + w, at[1]],
          [at[0] + w, at[1] + h],
          [at[0], at[1] + h],
        ],
      ],
      false,
    );
  }
  page.pushOperators(popGraphicsState());
  bars(pen);
  const text = (mmX: number, mmY: number, size: number, words: string): void =>
    page.drawText(winAnsi(words), { x: pen.x(mmX), y: pen.y(mmY), size, font: pen.font });
  text(-LEFT_MM + EDGE_MM, -FOOT_MM + 20, 10, drawing.title);
  text(
    -LEFT_MM + EDGE_MM,
    -FOOT_MM + 14.5,
    8,
    'Print at 100 % ("actual size", no fitting to the page). Measure both 100 mm bars: if they are not 100.0 mm long, give what they',
  );
  text(
    -LEFT_MM + EDGE_MM,
    -FOOT_MM + 11,
    8,
    `measure as --printed-mm 99.6x99.8 (X x Y) and print again.${options.printedMm ? ` This page makes up for bars of ${options.printedMm.x} x ${options.printedMm.y} mm.` : ''} Then lay the paper over the board: outline and lands must meet.`,
  );
  return { bytes: await pdf.save({ useObjectStreams: false }), ownSize: !upright && !flat };
}

async function path(pen: Pen, rings: readonly Ring[], fill: boolean): Promise<void> {
  const { moveTo, lineTo, closePath, stroke, PDFOperator, PDFOperatorNames } = await import('pdf-lib');
  for (const ring of rings) {
    pen.page.pushOperators(
      ...ring.map(([x, y], i) => (i === 0 ? moveTo(pen.x(x), pen.y(y)) : lineTo(pen.x(x), pen.y(y)))),
    );
    pen.page.pushOperators(closePath());
  }
  pen.page.pushOperators(fill ? PDFOperator.of(PDFOperatorNames.FillEvenOddAndStroke) : stroke());
}

/** A bar along X below the sheet and one along Y beside it, in mm; an inch bar under the first. */
function bars({ page, font, x, y }: Pen): void {
  const line = (x0: number, y0: number, x1: number, y1: number, thickness = 0.4): void =>
    page.drawLine({ start: { x: x(x0), y: y(y0) }, end: { x: x(x1), y: y(y1) }, thickness });
  const label = (mmX: number, mmY: number, words: string): void =>
    page.drawText(words, { x: x(mmX), y: y(mmY), size: 7, font });
  const barY = -6;
  line(0, barY, BAR_MM, barY);
  for (let mm = 0; mm <= BAR_MM; mm += 5)
    line(mm, barY, mm, barY + (mm % 10 === 0 ? 2.5 : 1.5), mm % BAR_MM === 0 ? 0.4 : 0.25);
  label(BAR_MM + 1.5, barY, '100 mm');
  const inchY = -11;
  line(0, inchY, INCHES * 25.4, inchY);
  for (let quarter = 0; quarter <= 4 * INCHES; quarter += 1)
    line(quarter * 6.35, inchY, quarter * 6.35, inchY + (quarter % 4 === 0 ? 2.5 : 1.5), 0.25);
  label(INCHES * 25.4 + 1.5, inchY, '4 inch');
  const barX = -9;
  line(barX, 0, barX, BAR_MM);
  for (let mm = 0; mm <= BAR_MM; mm += 5)
    line(barX, mm, barX + (mm % 10 === 0 ? 2.5 : 1.5), mm, mm % BAR_MM === 0 ? 0.4 : 0.25);
  label(barX - 4, BAR_MM + 1.5, '100 mm');
}

/** The standard fonts of PDF know Western European characters only. */
const winAnsi = (text: string): string => text.replace(/[^\x20-\x7e\u00a0-\u00ff]/g, '-');

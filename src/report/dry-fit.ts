import type { PDFFont, PDFPage } from 'pdf-lib';
import { ringBounds } from '../geometry/bounds.js';
import { move } from '../geometry/shape-cache.js';
import { rectangle } from '../geometry/shapes.js';
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
    readonly name: string;
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
 * bars that show whether the printer is true. A sheet that is too large for the paper gets a page for each piece of
 * film; a piece that is still too large gets a page of its own size.
 *
 * @returns the PDF's bytes (the same for the same input) and whether a page is larger than the paper
 */
export async function dryFitPdf(
  drawing: DryFit,
  options: DryFitOptions,
): Promise<{ bytes: Uint8Array; ownSize: boolean }> {
  const { PDFDocument, StandardFonts } = await import('pdf-lib');
  const pdf = await PDFDocument.create({ updateMetadata: false });
  pdf.setTitle(drawing.title);
  const font = await pdf.embedFont(StandardFonts.Helvetica);
  const drawings = pageSize(drawing, options).own && drawing.pieces.length > 1 ? eachPiece(drawing) : [drawing];
  for (const one of drawings) {
    const { widthMm, heightMm, factorX, factorY } = pageSize(one, options);
    const page = pdf.addPage([widthMm * PT_PER_MM, heightMm * PT_PER_MM]);
    await drawPage(one, options, {
      page,
      font,
      x: (mm) => (LEFT_MM + mm) * factorX * PT_PER_MM,
      y: (mm) => (FOOT_MM + mm) * factorY * PT_PER_MM,
    });
  }
  const bytes = await pdf.save({ useObjectStreams: false });
  return { bytes, ownSize: drawings.some((one) => pageSize(one, options).own) };
}

function pageSize(drawing: DryFit, { paper, printedMm }: DryFitOptions) {
  const factorX = printedMm ? BAR_MM / printedMm.x : 1;
  const factorY = printedMm ? BAR_MM / printedMm.y : 1;
  const needX = (Math.max(drawing.widthMm, BAR_MM + 10) + LEFT_MM + EDGE_MM) * factorX;
  const needY = (Math.max(drawing.heightMm, BAR_MM + 4) + FOOT_MM + EDGE_MM) * factorY;
  const [short, long] = PAPER_MM[paper];
  const upright = needX <= short && needY <= long;
  const flat = needX <= long && needY <= short;
  const [widthMm, heightMm] = upright ? [short, long] : flat ? [long, short] : [needX, needY];
  return { widthMm, heightMm, factorX, factorY, own: !upright && !flat };
}

/** One drawing a piece of film; copies of the same stencil only once. */
function eachPiece(drawing: DryFit): DryFit[] {
  const seen = new Set<string>();
  return drawing.pieces.flatMap((piece) => {
    const key = `${piece.name} ${piece.widthMm} ${piece.heightMm}`;
    if (seen.has(key)) return [];
    seen.add(key);
    const [x0, y0] = piece.at;
    const inside = (ring: Ring): boolean => {
      const box = ringBounds(ring);
      return (
        box.minX >= x0 - 1e-6 &&
        box.maxX <= x0 + piece.widthMm + 1e-6 &&
        box.minY >= y0 - 1e-6 &&
        box.maxY <= y0 + piece.heightMm + 1e-6
      );
    };
    return [
      {
        title: `${drawing.title} (${piece.name})`,
        widthMm: piece.widthMm,
        heightMm: piece.heightMm,
        openings: drawing.openings.filter(({ outer }) => inside(outer)).map((region) => move(region, -x0, -y0)),
        outlines: drawing.outlines
          .filter(inside)
          .map((ring) => ring.map(([x, y]): [number, number] => [x - x0, y - y0])),
        pieces: [{ ...piece, at: [0, 0] }],
      },
    ];
  });
}

async function drawPage(drawing: DryFit, { printedMm }: DryFitOptions, pen: Pen): Promise<void> {
  const { pushGraphicsState, popGraphicsState, setLineWidth, setStrokingGrayscaleColor, setFillingGrayscaleColor } =
    await import('pdf-lib');
  const { page } = pen;
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
  for (const { at, widthMm, heightMm } of drawing.pieces) {
    await path(pen, [rectangle(at[0], at[1], at[0] + widthMm, at[1] + heightMm)], false);
  }
  page.pushOperators(popGraphicsState());
  bars(pen);
  const text = (mmX: number, mmY: number, size: number, words: string): void =>
    page.drawText(winAnsi(words), { x: pen.x(mmX), y: pen.y(mmY), size, font: pen.font });
  const left = -LEFT_MM + EDGE_MM;
  text(left, -18, 10, drawing.title);
  text(left, -22.5, 7.5, 'Print at 100 % ("actual size", not fitted to the page), then measure both 100 mm bars.');
  text(
    left,
    -26,
    7.5,
    `Not 100.0 mm? Give what they measure as --printed-mm 99.6x99.8 (X x Y) and print again.${printedMm ? ` Made up for here: ${printedMm.x} x ${printedMm.y} mm.` : ''}`,
  );
  text(left, -29.5, 7.5, 'Lay the paper over the board: outline and lands must meet.');
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

import type { PDFFont, PDFPage } from 'pdf-lib';
import { boxesNear, regionBounds } from '../geometry/bounds.js';
import { rectangle } from '../geometry/shapes.js';
import type { Ring } from '../geometry/types.js';
import {
  BAR_MM,
  type DryFit,
  type DryFitOptions,
  type DryFitPage,
  dryFitPages,
  EDGE_MM,
  FOOT_MM,
  factorsOf,
  LEFT_MM,
} from './dry-fit-pages.js';
import { addOperators, pdfPaths, points } from './pdf-paths.js';

const PT_PER_MM = 72 / 25.4;
const INCHES = 4;
/** Corners nearer to their neighbours' line than this are not drawn, mm: no printer shows them. */
const FINEST_MM = 0.01;
/** Lines reach beyond what they go round, mm. */
const LINE_ROOM_MM = 1;

interface Pen {
  readonly page: PDFPage;
  readonly font: PDFFont;
  /** From sheet mm to page points, printer's error made up for. */
  x(mm: number): number;
  y(mm: number): number;
}

/** A dry fit as made. */
export interface DryFitPdf {
  readonly bytes: Uint8Array;
  readonly pages: number;
  /** Whether something was too large for the paper and is spread over several pages, to be joined. */
  readonly tiled: boolean;
}

/**
 * A PDF at true size to print on paper and lay over the board before a film is cut: openings, board outline, and two
 * bars that show whether the printer is true. A sheet that is too large for the paper gets a page for each piece of
 * film; a piece that is still too large gets several, to be cut along their frames and joined.
 *
 * @returns the PDF's bytes (the same for the same input) and how many pages of paper it takes
 */
export async function dryFitPdf(drawing: DryFit, options: DryFitOptions): Promise<DryFitPdf> {
  const { PDFDocument, StandardFonts } = await import('pdf-lib');
  const pdf = await PDFDocument.create({ updateMetadata: false });
  pdf.setTitle(drawing.title);
  const font = await pdf.embedFont(StandardFonts.Helvetica);
  const factor = factorsOf(options);
  const pages = dryFitPages(drawing, options);
  for (const one of pages) {
    await drawPage(one, options, {
      page: pdf.addPage([one.paperMm.width * PT_PER_MM, one.paperMm.height * PT_PER_MM]),
      font,
      x: (mm) => (LEFT_MM + mm) * factor.x * PT_PER_MM,
      y: (mm) => (FOOT_MM + mm) * factor.y * PT_PER_MM,
    });
  }
  const bytes = await pdf.save({ useObjectStreams: false });
  return { bytes, pages: pages.length, tiled: pages.some(({ tile }) => tile !== undefined) };
}

async function drawPage(part: DryFitPage, options: DryFitOptions, pen: Pen): Promise<void> {
  const [x0, y0] = part.at;
  const shifted: Pen = { ...pen, x: (mm) => pen.x(mm - x0), y: (mm) => pen.y(mm - y0) };
  drawOpenings(part, shifted);
  await drawSheet(part, shifted);
  bars(pen);
  words(part, options, pen);
}

/** The openings in a stream of their own, cut off at the part's frame: each is its shape, moved to its place. */
function drawOpenings({ drawing, at, widthMm, heightMm, tile }: DryFitPage, { page, x, y }: Pen): void {
  const near = { minX: at[0], minY: at[1], maxX: at[0] + widthMm, maxY: at[1] + heightMm };
  const draw = pdfPaths(x, y, FINEST_MM);
  const size = `${points(x(widthMm) - x(0))} ${points(y(heightMm) - y(0))}`;
  const frame = `${points(x(near.minX))} ${points(y(near.minY))} ${size} re W n`;
  const shown = drawing.openings.filter((region) => boxesNear(regionBounds(region), near, LINE_ROOM_MM));
  addOperators(page, [
    'q',
    ...(tile ? [frame] : []),
    '0.25 w 0 G 0.75 g',
    ...shown.map((region) => draw(region, 'B*')),
    'Q',
  ]);
}

/** Outlines and the edges of the film, cut off at the part's frame. */
async function drawSheet({ drawing, at, widthMm, heightMm, tile }: DryFitPage, pen: Pen): Promise<void> {
  const pdf = await import('pdf-lib');
  const { pushGraphicsState, popGraphicsState, setLineWidth, setStrokingGrayscaleColor } = pdf;
  const { page } = pen;
  const frame = rectangle(at[0], at[1], at[0] + widthMm, at[1] + heightMm);
  page.pushOperators(pushGraphicsState());
  if (tile) {
    page.pushOperators(
      ...frame.map(([x, y], i) => (i === 0 ? pdf.moveTo(pen.x(x), pen.y(y)) : pdf.lineTo(pen.x(x), pen.y(y)))),
    );
    page.pushOperators(pdf.closePath(), pdf.clip(), pdf.endPath());
  }
  page.pushOperators(setLineWidth(0.7), setStrokingGrayscaleColor(0));
  for (const ring of drawing.outlines) await path(pen, ring);
  page.pushOperators(setLineWidth(0.3), setStrokingGrayscaleColor(0.5));
  for (const piece of drawing.pieces) {
    const [x, y] = piece.at;
    await path(pen, rectangle(x, y, x + piece.widthMm, y + piece.heightMm));
  }
  page.pushOperators(popGraphicsState());
  if (!tile) return;
  page.pushOperators(pushGraphicsState(), setLineWidth(0.5), pdf.setDashPattern([4, 3], 0));
  await path(pen, frame);
  page.pushOperators(popGraphicsState());
}

function words({ drawing, tile }: DryFitPage, { printedMm }: DryFitOptions, pen: Pen): void {
  const text = (mmX: number, mmY: number, size: number, line: string): void =>
    pen.page.drawText(winAnsi(line), { x: pen.x(mmX), y: pen.y(mmY), size, font: pen.font });
  const left = -LEFT_MM + EDGE_MM;
  const place = tile ? `, column ${tile.column} of ${tile.columns}, row ${tile.row} of ${tile.rows} from below` : '';
  text(left, -18, 10, `${drawing.title}${place}`);
  text(left, -22.5, 7.5, 'Print at 100 % ("actual size", not fitted to the page), then measure both 100 mm bars.');
  text(
    left,
    -26,
    7.5,
    `Not 100.0 mm? Give what they measure as --printed-mm 99.6x99.8 (X x Y) and print again.${printedMm ? ` Made up for here: ${printedMm.x} x ${printedMm.y} mm.` : ''}`,
  );
  const join = tile ? 'Cut along the dashed frames and join the pages edge to edge. ' : '';
  text(left, -29.5, 7.5, `${join}Lay the paper over the board: outline and lands must meet.`);
}

async function path(pen: Pen, ring: Ring): Promise<void> {
  const { moveTo, lineTo, closePath, stroke } = await import('pdf-lib');
  pen.page.pushOperators(
    ...ring.map(([x, y], i) => (i === 0 ? moveTo(pen.x(x), pen.y(y)) : lineTo(pen.x(x), pen.y(y)))),
  );
  pen.page.pushOperators(closePath(), stroke());
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

import { boxesNear, regionBounds } from '../geometry/bounds.js';
import { boxRing, rectangle } from '../geometry/shapes.js';
import type { Point, Ring } from '../geometry/types.js';
import { MM_PER_INCH } from '../inch.js';
import { newPdf, PT_PER_MM, pdfBytes, pdfFonts } from '../pdf-file.js';
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
import { type Ink, type InkColour, inkOn } from './ink.js';
import { addOperators, pdfPaths, points } from './pdf-paths.js';

/** Corners nearer to their neighbours' line than this are not drawn, mm: no printer shows them. */
const FINEST_MM = 0.01;
/** Lines reach beyond what they go round, mm. */
const LINE_ROOM_MM = 1;
/** Widths of lines: of the board, of films and scales, of the finest marks, mm. */
const BOARD_LINE_MM = 0.25;
const LINE_MM = 0.14;
const FINE_LINE_MM = 0.09;

/** A dry fit as made. */
export interface DryFitPdf {
  readonly bytes: Uint8Array;
  readonly pages: number;
  /** Whether something was too large for the paper and is spread over several pages, to be joined. */
  readonly tiled: boolean;
}

/** From mm on the sheet to mm on the paper, the printer's error made up for. */
type ToPaper = (mm: Point) => Point;

/**
 * A PDF at true size to print on paper and lay over the board before a film is cut: openings, board outline, and two
 * bars that show whether the printer is true. A sheet that is too large for the paper gets a page for each piece of
 * film; a piece that is still too large gets several, to be cut along their frames and joined.
 *
 * @returns the PDF's bytes (the same for the same input) and how many pages of paper it takes
 */
export async function dryFitPdf(drawing: DryFit, options: DryFitOptions): Promise<DryFitPdf> {
  const pdf = await newPdf(drawing.title);
  const fonts = await pdfFonts(pdf);
  const factor = factorsOf(options);
  const at: ToPaper = ([x, y]) => [(LEFT_MM + x) * factor.x, (FOOT_MM + y) * factor.y];
  const pages = dryFitPages(drawing, options);
  for (const one of pages) {
    const page = pdf.addPage([one.paperMm.width * PT_PER_MM, one.paperMm.height * PT_PER_MM]);
    const operators: string[] = [];
    const ink = inkOn(page, fonts, operators);
    drawPart(one, ink, operators, at);
    drawBars(ink, at);
    writeWords(one, options, ink, at);
    addOperators(page, operators);
  }
  return { bytes: await pdfBytes(pdf), pages: pages.length, tiled: pages.some(({ tile }) => tile !== undefined) };
}

/** Openings, outlines and the edges of the film, cut off at the part's frame. */
function drawPart(part: DryFitPage, ink: Ink, operators: string[], toPaper: ToPaper): void {
  const { drawing, at, widthMm, heightMm, tile } = part;
  const near = { minX: at[0], minY: at[1], maxX: at[0] + widthMm, maxY: at[1] + heightMm };
  const moved: ToPaper = ([x, y]) => toPaper([x - at[0], y - at[1]]);
  const [x, y] = [0, 1].map((axis) => (mm: number) => moved([mm, mm])[axis] * PT_PER_MM);
  const ring = (corners: Ring, lineMm: number, colour?: InkColour): void =>
    ink.ring(corners.map(moved), lineMm, colour);
  const shape = pdfPaths(x, y, FINEST_MM);
  const frame = boxRing(near);
  operators.push('q');
  if (tile) {
    const size = [x(near.maxX) - x(near.minX), y(near.maxY) - y(near.minY)];
    operators.push(`${[x(near.minX), y(near.minY), ...size].map(points).join(' ')} re W n`);
  }
  operators.push('0.25 w 0 G 0.75 g');
  for (const region of drawing.openings)
    if (boxesNear(regionBounds(region), near, LINE_ROOM_MM)) operators.push(shape(region, 'B*'));
  for (const outline of drawing.outlines) ring(outline, BOARD_LINE_MM);
  for (const film of drawing.pieces) {
    const [left, low] = film.at;
    ring(rectangle(left, low, left + film.widthMm, low + film.heightMm), FINE_LINE_MM, 'rule');
  }
  operators.push('Q');
  if (!tile) return;
  operators.push('q [4 3] 0 d');
  ring(frame, LINE_MM);
  operators.push('Q');
}

function writeWords({ drawing, tile }: DryFitPage, { printedMm }: DryFitOptions, ink: Ink, at: ToPaper): void {
  const text = (y: number, sizePt: number, line: string): void =>
    ink.text(line, at([EDGE_MM - LEFT_MM, y]), { sizePt });
  const place = tile ? `, column ${tile.column} of ${tile.columns}, row ${tile.row} of ${tile.rows} from below` : '';
  const madeUp = printedMm ? ` Made up for here: ${printedMm.x} x ${printedMm.y} mm.` : '';
  const join = tile ? 'Cut along the dashed frames and join the pages edge to edge. ' : '';
  text(-18, 10, `${drawing.title}${place}`);
  text(-22.5, 7.5, 'Print at 100 % ("actual size", not fitted to the page), then measure both 100 mm bars.');
  text(-26, 7.5, `Not 100.0 mm? Give what they measure as --printed-mm 99.6x99.8 (X x Y) and print again.${madeUp}`);
  text(-29.5, 7.5, `${join}Lay the paper over the board: outline and lands must meet.`);
}

/** A bar along X below the sheet and one along Y beside it, in mm; an inch bar under the first. */
function drawBars(ink: Ink, at: ToPaper): void {
  const bar = (
    along: (mm: number, away: number) => Point,
    lengthMm: number,
    stepMm: number,
    longEach: number,
  ): void => {
    ink.line(at(along(0, 0)), at(along(lengthMm, 0)), LINE_MM);
    for (let i = 0; i * stepMm <= lengthMm + 1e-9; i += 1) {
      const [foot, tip] = [0, i % longEach === 0 ? 2.5 : 1.5].map((away) => at(along(i * stepMm, away)));
      ink.line(foot, tip, (i * stepMm) % lengthMm === 0 ? LINE_MM : FINE_LINE_MM);
    }
  };
  const label = (words: string, place: Point): void => ink.text(words, at(place), { sizePt: 7 });
  bar((mm, away) => [mm, away - 6], BAR_MM, 5, 2);
  label('100 mm', [BAR_MM + 1.5, -6]);
  bar((mm, away) => [mm, away - 11], 4 * MM_PER_INCH, MM_PER_INCH / 4, 4);
  label('4 inch', [4 * MM_PER_INCH + 1.5, -11]);
  bar((mm, away) => [away - 9, mm], BAR_MM, 5, 2);
  label('100 mm', [-13, BAR_MM + 1.5]);
}

import { boxesNear, boxWithin, regionBounds, ringBounds } from '../geometry/bounds.js';
import { copyAt } from '../geometry/copies.js';
import { boxRing, rectangle } from '../geometry/shapes.js';
import type { Box, PerAxis, Point, Region, Ring, Size } from '../geometry/types.js';
import { newPdf, PT_PER_MM, pdfBytes, pdfFonts } from '../pdf-file.js';
import { MM_PER_INCH } from '../text.js';
import { type Ink, type InkLook, inkOn, PAPERS, type Paper } from './ink.js';

/** Corners nearer to their neighbours' line than this are not drawn, mm: no printer shows them. */
const FINEST_MM = 0.01;
/** Lines reach beyond what they go round, mm. */
const LINE_ROOM_MM = 1;
/** Widths of lines: of the board, of films and scales, of the finest marks, mm. */
const BOARD_LINE_MM = 0.25;
const LINE_MM = 0.14;
const FINE_LINE_MM = 0.09;

/** A dry fit as made. */
export type DryFitPdf = Awaited<ReturnType<typeof dryFitPdf>>;

/** From mm on the sheet to mm on the paper, the printer's error made up for. */
type ToPaper = (mm: Point) => Point;

/**
 * A PDF at true size to print on paper and lay over the board before a film is cut: openings, board outline, and two
 * bars that show whether the printer is true. A sheet that is too large for the paper gets a page for each piece of
 * film; a piece that is still too large gets several, to be cut along their frames and joined.
 *
 * @returns the PDF's bytes (the same for the same input) and how many pages of paper it takes
 */
export async function dryFitPdf(drawing: DryFit, options: DryFitOptions) {
  const pdf = await newPdf(drawing.title);
  const fonts = await pdfFonts(pdf);
  const factor = factorsOf(options);
  const at: ToPaper = ([x, y]) => [(LEFT_MM + x) * factor.x, (FOOT_MM + y) * factor.y];
  const pages = dryFitPages(drawing, options);
  for (const one of pages) {
    const page = pdf.addPage([one.paperMm.width * PT_PER_MM, one.paperMm.height * PT_PER_MM]);
    const ink = inkOn(page, fonts);
    drawPart(one, ink, at);
    drawBars(ink, at);
    writeWords(one, options, ink, at);
    ink.done();
  }
  return { bytes: await pdfBytes(pdf), pages: pages.length, tiled: pages.some(({ tile }) => tile !== undefined) };
}

/** Openings, outlines and the edges of the film, cut off at the part's frame. */
function drawPart({ drawing, at, widthMm, heightMm, tile }: DryFitPage, ink: Ink, toPaper: ToPaper): void {
  const near = { minX: at[0], minY: at[1], maxX: at[0] + widthMm, maxY: at[1] + heightMm };
  const moved: ToPaper = ([x, y]) => toPaper([x - at[0], y - at[1]]);
  const ring = (corners: Ring, look: InkLook): void => ink.polygon(corners.map(moved), look);
  const draw = (): void => {
    const seen = drawing.openings.filter((region) => boxesNear(regionBounds(region), near, LINE_ROOM_MM));
    ink.regions(seen, moved, { fill: 'grey', line: 'black', width: FINE_LINE_MM }, FINEST_MM);
    for (const outline of drawing.outlines) ring(outline, { line: 'black', width: BOARD_LINE_MM });
    for (const {
      at: [left, low],
      ...film
    } of drawing.pieces)
      ring(rectangle(left, low, left + film.widthMm, low + film.heightMm), { line: 'rule', width: FINE_LINE_MM });
  };
  if (!tile) draw();
  else {
    ink.clipped(ringBounds(boxRing(near).map(moved)), draw);
    ring(boxRing(near), { line: 'black', width: LINE_MM, dash: [4, 3] });
  }
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

/** Length of the two bars that show whether the printer is true, mm. */
const BAR_MM = 100;
/** Room for the bars and the words below the sheet, and white around everything, mm. */
const FOOT_MM = 34;
const LEFT_MM = 26;
const EDGE_MM = 8;
/** Sheets a little larger than a whole number of pages are no reason for another row of them. */
const NOISE_MM = 1e-6;

/** What to draw for laying on the board, mm, lower left corner of the sheet at the origin. */
export interface DryFit extends Size {
  readonly title: string;
  readonly openings: readonly Region[];
  readonly outlines: readonly Ring[];
  /** Each piece of film on the sheet. */
  readonly pieces: readonly (Size & { readonly name: string; readonly at: Point })[];
}

export interface DryFitOptions {
  readonly paper: Paper;
  /** What the two bars measured on an earlier print, mm: the page is drawn larger or smaller to make up for it. */
  readonly printedMm?: PerAxis;
}

/** One page of paper, and the part of a drawing that it shows. */
export interface DryFitPage extends Size {
  readonly drawing: DryFit;
  readonly paperMm: { readonly width: number; readonly height: number };
  /** Lower left corner and size of the part shown, mm on the drawing. */
  readonly at: Point;
  /** Where the page belongs when a drawing takes several; counted from 1, from the lower left. */
  readonly tile?: { readonly column: number; readonly row: number; readonly columns: number; readonly rows: number };
}

/** How much larger to draw, so that the printer's error is made up for. */
function factorsOf({ printedMm }: DryFitOptions): PerAxis {
  return { x: printedMm ? BAR_MM / printedMm.x : 1, y: printedMm ? BAR_MM / printedMm.y : 1 };
}

/**
 * Lays a drawing out on pages of paper: on one if it fits; else one for each piece of film, copies only once; and
 * a piece that is still too large on several pages, to be cut along their frames and joined.
 */
export function dryFitPages(drawing: DryFit, options: DryFitOptions): DryFitPage[] {
  const whole = pagesOf(drawing, options);
  const isOne = whole.length === 1 || drawing.pieces.length < 2;
  return isOne ? whole : eachPiece(drawing).flatMap((one) => pagesOf(one, options));
}

/** Paper upright and lying, and how much of a drawing each takes. */
function papers(options: DryFitOptions) {
  const [short, long] = PAPERS[options.paper];
  const factor = factorsOf(options);
  return [
    { width: short, height: long },
    { width: long, height: short },
  ].map((size) => ({
    size,
    room: {
      x: (size.width - EDGE_MM) / factor.x - LEFT_MM,
      y: (size.height - EDGE_MM) / factor.y - FOOT_MM,
    },
  }));
}

/** As few pages as hold it, the paper upright or lying. */
function pagesOf(drawing: DryFit, options: DryFitOptions): DryFitPage[] {
  const needed = (lengthMm: number, roomMm: number): number => Math.ceil(lengthMm / roomMm - NOISE_MM);
  const [{ size: paperMm, columns, rows }] = papers(options)
    .map(({ size, room }) => ({
      size,
      columns: needed(drawing.widthMm, room.x),
      rows: needed(drawing.heightMm, room.y),
    }))
    .sort((p, q) => p.columns * p.rows - q.columns * q.rows);
  const [widthMm, heightMm] = [drawing.widthMm / columns, drawing.heightMm / rows];
  return Array.from({ length: columns * rows }, (_, i): DryFitPage => {
    const [column, row] = [i % columns, Math.floor(i / columns)];
    const tile = columns * rows === 1 ? undefined : { column: column + 1, row: row + 1, columns, rows };
    return { drawing, paperMm, at: [column * widthMm, row * heightMm], widthMm, heightMm, tile };
  });
}

/** One drawing a piece of film; copies of the same stencil only once. */
function eachPiece(drawing: DryFit): DryFit[] {
  const seen = new Set<string>();
  return drawing.pieces.flatMap((piece) => {
    const key = `${piece.name} ${piece.widthMm} ${piece.heightMm}`;
    if (seen.has(key)) return [];
    seen.add(key);
    const [x0, y0] = piece.at;
    const film: Box = { minX: x0, minY: y0, maxX: x0 + piece.widthMm, maxY: y0 + piece.heightMm };
    const inside = (region: Region): boolean => boxWithin(regionBounds(region), film, 1e-6);
    return [
      {
        title: `${drawing.title} (${piece.name})`,
        widthMm: piece.widthMm,
        heightMm: piece.heightMm,
        openings: drawing.openings.filter(inside).map((region) => copyAt(region, -x0, -y0)),
        outlines: drawing.outlines
          .filter((outer) => inside({ outer, islands: [] }))
          .map((ring) => ring.map(([x, y]): [number, number] => [x - x0, y - y0])),
        pieces: [{ ...piece, at: [0, 0] }],
      },
    ];
  });
}

import { boxWithin, regionBounds } from '../geometry/bounds.js';
import { copyAt } from '../geometry/copies.js';
import type { Box, PerAxis, Region, Ring } from '../geometry/types.js';
import { PAPERS, type Paper } from './ink.js';

/** Length of the two bars that show whether the printer is true, mm. */
export const BAR_MM = 100;
/** Room for the bars and the words below the sheet, and white around everything, mm. */
export const FOOT_MM = 34;
export const LEFT_MM = 26;
export const EDGE_MM = 8;
/** Sheets a little larger than a whole number of pages are no reason for another row of them. */
const NOISE_MM = 1e-6;

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
  readonly paper: Paper;
  /** What the two bars measured on an earlier print, mm: the page is drawn larger or smaller to make up for it. */
  readonly printedMm?: PerAxis;
}

/** One page of paper, and the part of a drawing that it shows. */
export interface DryFitPage {
  readonly drawing: DryFit;
  readonly paperMm: { readonly width: number; readonly height: number };
  /** Lower left corner and size of the part shown, mm on the drawing. */
  readonly at: readonly [number, number];
  readonly widthMm: number;
  readonly heightMm: number;
  /** Where the page belongs when a drawing takes several; counted from 1, from the lower left. */
  readonly tile?: { readonly column: number; readonly row: number; readonly columns: number; readonly rows: number };
}

/** How much larger to draw, so that the printer's error is made up for. */
export function factorsOf({ printedMm }: DryFitOptions): { x: number; y: number } {
  return { x: printedMm ? BAR_MM / printedMm.x : 1, y: printedMm ? BAR_MM / printedMm.y : 1 };
}

/**
 * Lays a drawing out on pages of paper: on one if it fits; else one for each piece of film, copies only once; and
 * a piece that is still too large on several pages, to be cut along their frames and joined.
 */
export function dryFitPages(drawing: DryFit, options: DryFitOptions): DryFitPage[] {
  const whole = onePage(drawing, options);
  if (whole) return [whole];
  const drawings = drawing.pieces.length > 1 ? eachPiece(drawing) : [drawing];
  return drawings.flatMap((one) => {
    const page = onePage(one, options);
    return page ? [page] : tiles(one, options);
  });
}

function onePage(drawing: DryFit, options: DryFitOptions): DryFitPage | undefined {
  const paper = papers(options).find(({ room }) => drawing.widthMm <= room.x && drawing.heightMm <= room.y);
  const { widthMm, heightMm } = drawing;
  return paper && { drawing, paperMm: paper.size, at: [0, 0], widthMm, heightMm };
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

function tiles(drawing: DryFit, options: DryFitOptions): DryFitPage[] {
  const needed = (lengthMm: number, roomMm: number): number => Math.ceil(lengthMm / roomMm - NOISE_MM);
  const [best] = papers(options)
    .map(({ size, room }) => ({
      size,
      columns: needed(drawing.widthMm, room.x),
      rows: needed(drawing.heightMm, room.y),
    }))
    .sort((p, q) => p.columns * p.rows - q.columns * q.rows);
  const { columns, rows } = best;
  const widthMm = drawing.widthMm / columns;
  const heightMm = drawing.heightMm / rows;
  return Array.from({ length: columns * rows }, (_, i): DryFitPage => {
    const [column, row] = [i % columns, Math.floor(i / columns)];
    return {
      drawing,
      paperMm: best.size,
      at: [column * widthMm, row * heightMm],
      widthMm,
      heightMm,
      tile: { column: column + 1, row: row + 1, columns, rows },
    };
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

import type { CellFeature } from '../../coupon/features.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import type { Ink } from '../ink.js';

const ID_STYLE = { sizePt: 6, bold: true, align: 'middle' } as const;
const LINE_MM = 2.2;
/** Half the height of capitals of this type: from their middle to their base line, mm. */
const TO_BASE_MM = 0.75;

/** A cell's box on the paper. */
interface OnPaper {
  readonly cell: CellFeature;
  readonly box: Box;
}

/**
 * Cells with their ids in them, on two lines where they are narrow; cells that are too small for that have the powers and
 * speeds written beside the rows and below the columns instead.
 */
export function drawCells(ink: Ink, cells: readonly CellFeature[], map: (p: Point) => Point, frame: Box): void {
  const placed = cells.map((cell): OnPaper => {
    const [x0, y0, x1, y1] = cell.box;
    return { cell, box: ringBounds([map([x0, y0]), map([x1, y1])]) };
  });
  for (const { box } of placed) ink.box(box.minX, box.minY, box.maxX - box.minX, box.maxY - box.minY, { lineMm: 0.2 });
  if (placed.every((one) => linesIn(ink, one))) for (const one of placed) writeId(ink, one);
  else writeSettings(ink, placed, frame);
}

/** The lines on which an id fits into its cell; undefined when it does not. */
function linesIn(ink: Ink, { cell: { id }, box }: OnPaper): string[] | undefined {
  const fits = (text: string): boolean => ink.widthMm(text, ID_STYLE) < box.maxX - box.minX - 0.2;
  if (fits(id)) return [id];
  const cut = id.lastIndexOf('S');
  const lines = [id.slice(0, cut), id.slice(cut)];
  return cut > 0 && lines.every(fits) && 2 * LINE_MM < box.maxY - box.minY ? lines : undefined;
}

function writeId(ink: Ink, one: OnPaper): void {
  const { box } = one;
  const lines = linesIn(ink, one) ?? [];
  lines.forEach((text, i) => {
    const y = (box.minY + box.maxY) / 2 - TO_BASE_MM + ((lines.length - 1) / 2 - i) * LINE_MM;
    ink.text(text, [(box.minX + box.maxX) / 2, y], ID_STYLE);
  });
}

/** Powers left of the frame, speeds below it; as many as have room. */
function writeSettings(ink: Ink, placed: readonly OnPaper[], frame: Box): void {
  const rows = new Map(placed.map(({ cell, box }) => [cell.powerPercent, (box.minY + box.maxY) / 2]));
  const columns = new Map(placed.map(({ cell, box }) => [cell.speedMmS, (box.minX + box.maxX) / 2]));
  let last = Number.NEGATIVE_INFINITY;
  for (const [power, y] of [...rows].sort((p, q) => p[1] - q[1])) {
    if (y - last < LINE_MM) continue;
    ink.text(`P${power}`, [frame.minX - 0.8, y - TO_BASE_MM], { ...ID_STYLE, align: 'right' });
    last = y;
  }
  last = Number.NEGATIVE_INFINITY;
  for (const [speed, x] of [...columns].sort((p, q) => p[1] - q[1])) {
    const half = ink.widthMm(`S${speed}`, ID_STYLE) / 2 + 0.4;
    if (x - half < last) continue;
    ink.text(`S${speed}`, [x, frame.minY - LINE_MM - 0.2], ID_STYLE);
    last = x + half;
  }
}

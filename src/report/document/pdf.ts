import { deflateSync } from 'node:zlib';
import type { PDFDocument, PDFPage } from 'pdf-lib';
import { regionBounds, ringBounds } from '../../geometry/bounds.js';
import { boxRing } from '../../geometry/shapes.js';
import type { Box, Point } from '../../geometry/types.js';
import { knownLetters, newPdf, pdfBytes, pdfFonts } from '../../pdf-file.js';
import { wrapWords } from '../../text.js';
import { type Ink, type InkLook, inkOn, type TextStyle } from '../ink.js';
import { svgToPixels } from '../picture.js';
import { placeLabels } from '../place-labels.js';
import type { Block, NumberedOpening, Report, StencilLayer } from './blocks.js';
import { byDoubt, FINEST_MM, frameOf, numberOn } from './draw-stencil.js';

const PAGE = { width: 595.28, height: 841.89 };
const MARGIN = 50;
const WIDTH = PAGE.width - 2 * MARGIN;
const PLAIN: TextStyle = { sizePt: 9.5 };
const LINE = 1.4;

/** The report on A4 pages. The same report gives the same bytes. */
export async function reportPdf({ title, blocks }: Report): Promise<Uint8Array> {
  const document = await newPdf(title);
  document.setLanguage('en');
  const fonts = await pdfFonts(document);
  const pages: Ink[] = [];
  const pen = penOn(() => {
    const page = document.addPage([PAGE.width, PAGE.height]);
    pages.push(inkOn(page, fonts, 1));
    return { page, ink: pages[pages.length - 1] };
  });
  pen.words(title, { sizePt: 15, bold: true });
  for (const block of blocks) {
    if (block.kind === 'picture' || block.kind === 'close-up') pen.picture(await placePicture(block.svg, document));
    else if (block.kind === 'stencil') pen.stencil(block);
    else if (block.kind === 'table') pen.table(block);
    else if (block.kind === 'heading') pen.heading(block.text);
    else if (block.kind === 'words') pen.words(block.text, { ...PLAIN, bold: block.tone !== undefined });
    else block.items.forEach((item, i) => void pen.words(item, PLAIN, block.ordered ? `${i + 1}.` : '-'));
  }
  for (const ink of pages) ink.done();
  return pdfBytes(document);
}

type TableBlock = Extract<Block, { kind: 'table' }>;

/** Writes down pages, one below the other. */
function penOn(newPage: () => { page: PDFPage; ink: Ink }) {
  let { page, ink } = newPage();
  let y = PAGE.height - MARGIN;
  /** A heading waits for what it is about, so that it does not stand alone at the foot of a page. */
  let waiting: string | undefined;
  const need = (height: number): void => {
    const title = waiting;
    waiting = undefined;
    if (y - height - (title === undefined ? 0 : HEADING_PT) < MARGIN) {
      ({ page, ink } = newPage());
      y = PAGE.height - MARGIN;
    }
    if (title === undefined) return;
    y -= 10;
    words(title, HEADING);
  };
  /** How tall a drawing gets: less than it wants where the page has most of that left, for half an empty page helps nobody. */
  const heightFor = (wanted: number, below: number, least: number): number => {
    const left = y - MARGIN - below - (waiting === undefined ? 0 : HEADING_PT);
    const height = left < wanted && left >= least * wanted ? left : wanted;
    need(height + below);
    return height;
  };
  const line = (text: string, x: number, style: TextStyle, down = 0): void =>
    ink.text(text, [x, y - down - style.sizePt], style);
  const words = (text: string, style: TextStyle, mark?: string): void => {
    const left = MARGIN + (mark === undefined ? 0 : 16);
    wrapped(text, ink, style, MARGIN + WIDTH - left).forEach((part, i) => {
      need(style.sizePt * LINE);
      if (i === 0 && mark !== undefined) line(mark, MARGIN, style);
      line(part, left, style);
      y -= style.sizePt * LINE;
    });
    y -= 3;
  };
  return {
    words,
    heading(title: string): void {
      waiting = title;
    },
    table({ caption, head, rows }: TableBlock): void {
      const widths = columnWidths([head, ...rows], ink);
      const laid = [head, ...rows].map((row, r) => {
        const style = styleOf(r);
        const cells = row.map((cell, i) => wrapped(cell, ink, style, widths[i] - CELL_GAP));
        return { style, cells, height: Math.max(...cells.map(({ length }) => length)) * style.sizePt * LINE };
      });
      const tall = (some: typeof laid): number => some.reduce((sum, { height }) => sum + height, 0);
      const write = ({ style, cells, height }: (typeof laid)[number]): void => {
        let x = MARGIN;
        for (const [i, cell] of cells.entries()) {
          for (const [k, part] of cell.entries()) line(part, x, style, k * LINE * style.sizePt);
          x += widths[i];
        }
        y -= height;
      };
      const start = PLAIN.sizePt * LINE + 3;
      const whole = start + tall(laid);
      need(whole <= SHORT_TABLE ? whole : start + tall(laid.slice(0, 1 + TOGETHER)));
      words(caption, PLAIN);
      for (const [r, row] of laid.entries()) {
        // The last rows go together; a page that begins within the table begins with its head.
        const here = page;
        need(r > 0 && r === laid.length - TOGETHER ? tall(laid.slice(r)) : row.height);
        if (page !== here) write(laid[0]);
        write(row);
      }
      y -= 6;
    },
    stencil({ layers, words: caption }: Extract<Block, { kind: 'stencil' }>): void {
      const frame = frameOf(layers);
      const [width, height] = [frame.maxX - frame.minX, frame.maxY - frame.minY];
      const most = Math.min(WIDTH / width, (PAGE.height - 2 * MARGIN - CAPTION - HEADING_PT) / height);
      const share = heightFor(height * most, CAPTION, LEAST_STENCIL) / height;
      drawStencil(ink, layers, frame, { x: MARGIN, y, share });
      y -= height * share + 8;
      words(caption, PLAIN);
    },
    picture({ widthPx, heightPx, draw }: PlacePicture): void {
      const most = Math.min(PICTURE_WIDTH / widthPx, (PAGE.height - 2 * MARGIN - HEADING_PT - 8) / heightPx);
      const height = heightFor(heightPx * most, 8, LEAST_PICTURE);
      const width = (widthPx * height) / heightPx;
      draw(page, { x: MARGIN, y: y - height, width, height });
      y -= height + 8;
    },
  };
}

/** Room for the words below a picture. */
const CAPTION = 50;
const HEADING: TextStyle = { sizePt: 12, bold: true };
/** A heading with the room above and below it. */
const HEADING_PT = 10 + HEADING.sizePt * LINE + 3;
/** Charts are not widened to the whole page. */
const PICTURE_WIDTH = 410;
/** The least shares of their size at which charts and stencils can still be read. */
const LEAST_PICTURE = 0.65;
const LEAST_STENCIL = 0.5;
const CELL: TextStyle = { sizePt: 8.5 };
const CELL_GAP = 8;
/** So many rows at either end of a table don't stand alone on a page. */
const TOGETHER = 3;
/** A table up to this tall is not torn apart. */
const SHORT_TABLE = 220;

const styleOf = (row: number): TextStyle => ({ ...CELL, bold: row === 0 });

/** As wide as the widest cell; where that is too much, the widest columns are narrowed to one width. */
function columnWidths(rows: readonly (readonly string[])[], ink: Ink): number[] {
  const widths = rows[0].map((_, i) =>
    Math.max(...rows.map((row, r) => ink.widthOf(row[i] ?? '', styleOf(r)) + CELL_GAP)),
  );
  let left = WIDTH;
  const narrowFirst = [...widths].sort((p, q) => p - q);
  for (const [k, width] of narrowFirst.entries()) {
    const share = left / (widths.length - k);
    if (width > share) return widths.map((own) => Math.min(own, share));
    left -= width;
  }
  return widths;
}

const wrapped = (text: string, ink: Ink, style: TextStyle, width: number): string[] =>
  wrapWords(knownLetters(text), (line) => ink.widthOf(line, style) <= width + 1e-6);

/** Where a drawing's upper left corner goes on the page, points, and how large a millimetre is there. */
interface Place {
  readonly x: number;
  readonly y: number;
  readonly share: number;
}

const LINE_PT = 0.25;
const CUT: InkLook = { fill: 'cut', line: 'wall', width: LINE_PT };
const DOUBTFUL: InkLook = { fill: 'doubt', line: 'doubtful wall', width: LINE_PT, dash: [1, 0.6] };
const TOLD: InkLook = { line: 'soft', width: LINE_PT };
/** Smaller words can't be read on paper, points. */
const LEAST_TEXT = 5;
const LABEL_TEXT = 6.5;
/** More labels would hide what they name; of so many small numbers all are set beside their openings, of more those that matter. */
const MOST_LABELS = 100;

/** Draws a stencil as lines and text, not as dots: a reader may look as closely as he likes. */
function drawStencil(ink: Ink, layers: readonly StencilLayer[], frame: Box, place: Place): void {
  const { share } = place;
  /** From mm to the right and down of the frame's upper left corner. */
  const onPage = (x: number, y: number): Point => [place.x + x * share, place.y - y * share];
  const at = ([x, y]: Point): Point => onPage(x - frame.minX, frame.maxY - y);
  const shown = layers.filter(({ hidden }) => !hidden);
  const filled = shown.flatMap(({ openings, outline }) => (outline ? [] : openings));
  const upon = filled.flatMap((opening) => {
    const number = numberOn(opening, frame);
    return number ? [{ ...number, opening, sizePt: number.sizeMm * share }] : [];
  });
  const small = upon.filter(({ sizePt }) => sizePt < LEAST_TEXT).map(({ opening }) => opening);
  const matters = ({ doubtful, named }: NumberedOpening): boolean => doubtful === true || named === true;
  const beside = small.length <= MOST_LABELS ? small : small.filter(matters);
  const box = ringBounds(boxRing(frame).map(at));
  /** As labels are placed: y down. */
  const down = (one: Box): Box => {
    const { minX, minY, maxX, maxY } = ringBounds(boxRing(one).map(at));
    return { minX, maxX, minY: -maxY, maxY: -minY };
  };
  const around = ({ region }: NumberedOpening): Box => down(regionBounds(region));
  const doubtfulFirst = byDoubt(beside).toReversed().flat().slice(0, MOST_LABELS);
  const wishes = doubtfulFirst.map((opening) => {
    const words = `${opening.number}`;
    const width = ink.widthOf(words, { sizePt: LABEL_TEXT });
    return { words, width, height: LABEL_TEXT, around: around(opening), single: false };
  });
  const labels = placeLabels(wishes, wishes.length === 0 ? [] : filled.map(around), down(frame));
  ink.clipped(box, () => {
    for (const { openings, outline } of shown) {
      const [good, doubtful] = byDoubt(openings).map((list) => list.map(({ region }) => region));
      ink.regions(good, at, outline ? TOLD : CUT, FINEST_MM);
      ink.regions(doubtful, at, outline ? { ...DOUBTFUL, fill: undefined } : DOUBTFUL, FINEST_MM);
    }
    const style = { colour: 'soft', align: 'middle' } as const;
    for (const { words, x, y, sizePt } of upon) ink.text(words, onPage(x, y), { ...style, sizePt });
    for (const { words, box: own, leader = [] } of labels) {
      const line = leader.map(([x, y]): Point => [x, -y]);
      if (line.length > 0) ink.polygon(line, TOLD);
      const middle: Point = [(own.minX + own.maxX) / 2, -own.minY - LABEL_FOOT];
      ink.text(words, middle, { ...style, sizePt: LABEL_TEXT });
    }
  });
}

/** How far below the top of its box the foot of a label lies. */
const LABEL_FOOT = 0.8 * LABEL_TEXT;

/** Pictures are drawn with so many dots across the page. */
const PICTURE_DOTS = 1300;

/** A picture that is in the file, and what draws it on a page; lower left corner and size in points. */
type PlacePicture = Awaited<ReturnType<typeof placePicture>>;

/** Puts an SVG as dots into a PDF. Straight from the renderer: as PNG it would be packed, unpacked and packed once more. */
async function placePicture(svg: string, document: PDFDocument) {
  const lib = await import('pdf-lib');
  const { rgb, widthPx, heightPx } = await svgToPixels(svg, PICTURE_DOTS);
  const { context } = document;
  const ref = context.register(
    context.stream(deflateSync(rgb), {
      ...{ Type: 'XObject', Subtype: 'Image', Width: widthPx, Height: heightPx },
      ...{ ColorSpace: 'DeviceRGB', BitsPerComponent: 8, Filter: 'FlateDecode' },
    }),
  );
  return {
    widthPx,
    heightPx,
    draw(page: PDFPage, { x, y, width, height }: { x: number; y: number; width: number; height: number }): void {
      const key = page.node.newXObject('Picture', ref);
      page.pushOperators(
        lib.pushGraphicsState(),
        lib.concatTransformationMatrix(width, 0, 0, height, x, y),
        lib.drawObject(key),
        lib.popGraphicsState(),
      );
    },
  };
}

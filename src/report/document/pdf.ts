import { deflateSync } from 'node:zlib';
import type { PDFDocument, PDFFont, PDFPage } from 'pdf-lib';
import type { Box } from '../../geometry/types.js';
import { knownLetters, newPdf, type PdfFonts, pdfBytes, pdfFonts } from '../../pdf-file.js';
import { wrapWords } from '../../text.js';
import { addOperators, pdfPaths, points } from '../pdf-paths.js';
import { svgToPixels } from '../picture.js';
import type { Block, Report, StencilLayer } from './blocks.js';
import { byDoubt, FINEST_MM, frameOf, numberOn } from './draw-stencil.js';

const PAGE = { width: 595.28, height: 841.89 };
const MARGIN = 50;
const WIDTH = PAGE.width - 2 * MARGIN;
const TEXT = 9.5;
const LINE = 1.4;

/** The report on A4 pages. The same report gives the same bytes. */
export async function reportPdf({ title, blocks }: Report): Promise<Uint8Array> {
  const document = await newPdf(title);
  document.setLanguage('en');
  const fonts = await pdfFonts(document);
  const pen = penOn(() => document.addPage([PAGE.width, PAGE.height]), fonts);
  pen.words(title, 15, 'bold');
  for (const block of blocks) {
    if (block.kind === 'picture' || block.kind === 'close-up') pen.picture(await placePicture(block.svg, document));
    else if (block.kind === 'stencil') pen.stencil(block);
    else writeBlock(block, pen);
  }
  return pdfBytes(document);
}

type TableBlock = Extract<Block, { kind: 'table' }>;
type StencilBlock = Extract<Block, { kind: 'stencil' }>;
type Pen = ReturnType<typeof penOn>;

function writeBlock(block: Block, pen: Pen): void {
  if (block.kind === 'heading') {
    pen.heading(block.text);
  } else if (block.kind === 'words') {
    pen.words(block.text, TEXT, block.tone ? 'bold' : 'plain');
  } else if (block.kind === 'list') {
    for (const [i, item] of block.items.entries()) pen.words(item, TEXT, 'plain', block.ordered ? `${i + 1}.` : '-');
  } else if (block.kind === 'table') {
    pen.table(block);
  }
}

/** Writes down pages, one below the other. */
function penOn(newPage: () => PDFPage, fonts: PdfFonts) {
  let page = newPage();
  let y = PAGE.height - MARGIN;
  /** A heading waits for what it is about, so that it does not stand alone at the foot of a page. */
  let waiting: string | undefined;
  const need = (height: number): void => {
    const title = waiting;
    waiting = undefined;
    if (y - height - (title === undefined ? 0 : HEADING) < MARGIN) {
      page = newPage();
      y = PAGE.height - MARGIN;
    }
    if (title === undefined) return;
    y -= 10;
    words(title, HEADING_TEXT, 'bold');
  };
  const line = (text: string, x: number, size: number, font: PDFFont): void => {
    page.drawText(text, { x, y: y - size, size, font });
  };
  const words = (text: string, size: number, weight: keyof PdfFonts, mark?: string): void => {
    const left = MARGIN + (mark === undefined ? 0 : 16);
    wrapped(text, fonts[weight], size, MARGIN + WIDTH - left).forEach((part, i) => {
      need(size * LINE);
      if (i === 0 && mark !== undefined) line(mark, MARGIN, size, fonts[weight]);
      line(part, left, size, fonts[weight]);
      y -= size * LINE;
    });
    y -= 3;
  };
  return {
    words,
    heading(title: string): void {
      waiting = title;
    },
    table({ caption, head, rows }: TableBlock): void {
      const widths = columnWidths([head, ...rows], fonts);
      need(TABLE_START);
      words(caption, TEXT, 'plain');
      for (const [r, row] of [head, ...rows].entries()) {
        const font = r === 0 ? fonts.bold : fonts.plain;
        const cells = row.map((cell, i) => wrapped(cell, font, TABLE, widths[i] - CELL_GAP));
        const lines = Math.max(...cells.map(({ length }) => length));
        need(lines * TABLE * LINE);
        for (let k = 0; k < lines; k += 1) {
          let x = MARGIN;
          for (const [i, cell] of cells.entries()) {
            if (cell[k] !== undefined) line(cell[k], x, TABLE, font);
            x += widths[i];
          }
          y -= TABLE * LINE;
        }
      }
      y -= 6;
    },
    stencil({ layers, words: caption }: StencilBlock): void {
      const frame = frameOf(layers);
      const [width, height] = [frame.maxX - frame.minX, frame.maxY - frame.minY];
      const share = Math.min(WIDTH / width, (PAGE.height - 2 * MARGIN - CAPTION - HEADING) / height);
      need(height * share + CAPTION);
      drawStencil(page, fonts.plain, layers, frame, { x: MARGIN, y, share });
      y -= height * share + 8;
      words(caption, TEXT, 'plain');
    },
    picture({ widthPx, heightPx, draw }: PlacePicture): void {
      const share = Math.min(PICTURE_WIDTH / widthPx, (PAGE.height - 2 * MARGIN - HEADING - 8) / heightPx);
      const [width, height] = [widthPx * share, heightPx * share];
      need(height + 8);
      draw(page, { x: MARGIN, y: y - height, width, height });
      y -= height + 8;
    },
  };
}

/** Room for the words below a picture. */
const CAPTION = 50;
const HEADING_TEXT = 12;
/** A heading with the room above and below it. */
const HEADING = 10 + HEADING_TEXT * LINE + 3;
/** Charts are not widened to the whole page. */
const PICTURE_WIDTH = 410;
const TABLE = 8.5;
const CELL_GAP = 8;
/** A table's caption, head and first row, which do not stand alone at the foot of a page. */
const TABLE_START = TEXT * LINE + 3 + 3 * TABLE * LINE;

/** As wide as the widest cell; where that is too much, the widest columns are narrowed to one width. */
function columnWidths(rows: readonly (readonly string[])[], fonts: PdfFonts): number[] {
  const widths = rows[0].map((_, i) =>
    Math.max(...rows.map((row) => fonts.bold.widthOfTextAtSize(knownLetters(row[i] ?? ''), TABLE) + CELL_GAP)),
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

function wrapped(text: string, font: PDFFont, size: number, width: number): string[] {
  return wrapWords(knownLetters(text), (line) => font.widthOfTextAtSize(line, size) <= width + 1e-6);
}

/** Where a drawing's upper left corner goes on the page, points, and how large a millimetre is there. */
interface Place {
  readonly x: number;
  readonly y: number;
  readonly share: number;
}

const LINE_PT = 0.25;
/** Red, green and blue, 0 to 1. */
const OPEN = '0.56 0.78 0.91';
const WALL = '0.07 0.29 0.42';
const DOUBT = '0.94 0.71 0.54';
const DOUBT_WALL = '0.64 0.24 0';
const INK = '0.1 0.1 0.1';

/** Draws a stencil as lines and text, not as dots: a reader may look as closely as he likes. */
function drawStencil(page: PDFPage, font: PDFFont, layers: readonly StencilLayer[], frame: Box, place: Place): void {
  const x = (mm: number): number => place.x + (mm - frame.minX) * place.share;
  const y = (mm: number): number => place.y - (frame.maxY - mm) * place.share;
  const draw = pdfPaths(x, y, FINEST_MM);
  const walls = (openings: StencilLayer['openings'], wall: string, fill?: string): string[] => [
    `q ${LINE_PT} w ${wall} RG${fill ? ` ${fill} rg` : ''}`,
    ...openings.flatMap(({ regions }) => regions.map((region) => draw(region, fill ? 'B*' : 'S'))),
    'Q',
  ];
  const shown = layers.filter(({ hidden }) => !hidden);
  const drawn = shown.flatMap(({ openings, outline }) => {
    const [good, doubtful] = byDoubt(openings);
    return [
      ...walls(good, outline ? INK : WALL, outline ? undefined : OPEN),
      ...walls(doubtful, outline ? INK : DOUBT_WALL, outline ? undefined : DOUBT),
    ];
  });
  const key = page.node.newFontDictionary(font.name, font.ref);
  const numbers = shown
    .flatMap(({ openings, outline }) => (outline ? [] : openings))
    .flatMap((opening) => {
      const number = numberOn(opening, frame);
      if (!number) return [];
      const size = number.sizeMm * place.share;
      const left = x(number.x + frame.minX) - font.widthOfTextAtSize(number.words, size) / 2;
      const at = `1 0 0 1 ${points(left)} ${points(y(frame.maxY - number.y))} Tm`;
      return [`${key} ${points(size)} Tf ${at} ${font.encodeText(number.words)} Tj`];
    });
  addOperators(page, [...drawn, 'BT', `${INK} rg`, ...numbers, 'ET']);
}

/** Pictures are drawn with so many dots across the page. */
const PICTURE_DOTS = 1300;

/** A picture that is in the file, and what draws it on a page; lower left corner and size in points. */
export interface PlacePicture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly draw: (page: PDFPage, box: { x: number; y: number; width: number; height: number }) => void;
}

/** Puts an SVG as dots into a PDF. Straight from the renderer: as PNG it would be packed, unpacked and packed once more. */
async function placePicture(svg: string, document: PDFDocument): Promise<PlacePicture> {
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
    draw(page, { x, y, width, height }) {
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

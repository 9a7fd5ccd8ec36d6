import type { PDFFont, PDFPage } from 'pdf-lib';
import { knownLetters, newPdf, type PdfFonts, pdfBytes, pdfFonts } from '../../pdf-file.js';
import { wrapWords } from '../../wrap-words.js';
import type { Block, Report } from './blocks.js';
import { frameOf } from './draw-stencil.js';
import { drawStencil, type PlacePicture, placePicture } from './pdf-drawings.js';

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

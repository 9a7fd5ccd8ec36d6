import { deflateSync } from 'node:zlib';
import type { PDFDocument, PDFFont, PDFPage } from 'pdf-lib';
import { boxAround, boxesNear, boxWithin, regionBounds, ringBounds } from '../../geometry/bounds.js';
import { boxRing } from '../../geometry/shapes.js';
import type { Box, Point } from '../../geometry/types.js';
import { knownLetters, newPdf, type PdfFonts, pdfBytes, pdfFonts } from '../../pdf-file.js';
import { wrapWords } from '../../text.js';
import { type Ink, type InkLook, inkOn } from '../ink.js';
import { svgToPixels } from '../picture.js';
import { type Label, placeLabels } from '../place-labels.js';
import type { Block, NumberedOpening, Report, StencilLayer } from './blocks.js';
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
  const pages: Ink[] = [];
  const pen = penOn(() => {
    const page = document.addPage([PAGE.width, PAGE.height]);
    pages.push(inkOn(page, fonts, 1));
    return { page, ink: pages[pages.length - 1] };
  }, fonts);
  pen.words(title, 15, 'bold');
  for (const block of blocks) {
    if (block.kind === 'picture' || block.kind === 'close-up') pen.picture(await placePicture(block.svg, document));
    else if (block.kind === 'stencil') pen.stencil(block);
    else if (block.kind === 'table') pen.table(block);
    else if (block.kind === 'heading') pen.heading(block.text);
    else if (block.kind === 'words') pen.words(block.text, TEXT, block.tone ? 'bold' : 'plain');
    else block.items.forEach((item, i) => void pen.words(item, TEXT, 'plain', block.ordered ? `${i + 1}.` : '-'));
  }
  for (const ink of pages) ink.done();
  return pdfBytes(document);
}

type TableBlock = Extract<Block, { kind: 'table' }>;
type StencilBlock = Extract<Block, { kind: 'stencil' }>;

/** Writes down pages, one below the other. */
function penOn(newPage: () => { page: PDFPage; ink: Ink }, fonts: PdfFonts) {
  let { page, ink } = newPage();
  let y = PAGE.height - MARGIN;
  /** A heading waits for what it is about, so that it does not stand alone at the foot of a page. */
  let waiting: string | undefined;
  const need = (height: number): void => {
    const title = waiting;
    waiting = undefined;
    if (y - height - (title === undefined ? 0 : HEADING) < MARGIN) {
      ({ page, ink } = newPage());
      y = PAGE.height - MARGIN;
    }
    if (title === undefined) return;
    y -= 10;
    words(title, HEADING_TEXT, 'bold');
  };
  /** How tall a drawing gets: less than it wants where the page has most of that left, for half an empty page helps nobody. */
  const heightFor = (wanted: number, below: number, least: number): number => {
    const left = y - MARGIN - below - (waiting === undefined ? 0 : HEADING);
    const height = left < wanted && left >= least * wanted ? left : wanted;
    need(height + below);
    return height;
  };
  const line = (text: string, x: number, sizePt: number, weight: keyof PdfFonts, down = 0): void =>
    ink.text(text, [x, y - down - sizePt], { sizePt, bold: weight === 'bold' });
  const words = (text: string, size: number, weight: keyof PdfFonts, mark?: string): void => {
    const left = MARGIN + (mark === undefined ? 0 : 16);
    wrapped(text, fonts[weight], size, MARGIN + WIDTH - left).forEach((part, i) => {
      need(size * LINE);
      if (i === 0 && mark !== undefined) line(mark, MARGIN, size, weight);
      line(part, left, size, weight);
      y -= size * LINE;
    });
    y -= 3;
  };
  /** Doubtful openings once more, several in a row, where that shows them much larger. */
  const closer = (layers: StencilBlock['layers'], shareBefore: number): void => {
    const looks = closeLooks(layers, MOST_LOOKS).filter(
      ({ frame }) => LOOK / (frame.maxX - frame.minX) > CLOSER * shareBefore,
    );
    if (looks.length === 0) return;
    const doubtful = new Set(layers.flatMap(({ openings }) => openings.filter((one) => one.doubtful)));
    const left = doubtful.size - new Set(looks.flatMap(({ numbers }) => numbers)).size;
    const more = left > 0 ? ` ${left} more are in the list below.` : '';
    need(LOOK + LOOK_WORDS + TEXT * LINE);
    words(`Some of them closer, each with its surroundings.${more}`, TEXT, 'plain');
    for (let i = 0; i < looks.length; i += LOOKS_A_ROW) {
      need(LOOK + LOOK_WORDS);
      for (const [k, look] of looks.slice(i, i + LOOKS_A_ROW).entries()) {
        const x = MARGIN + k * (LOOK + LOOK_GAP);
        const sideMm = look.frame.maxX - look.frame.minX;
        line(`${sideMm.toFixed(0)} mm around ${look.numbers[0]}`, x, TABLE, 'plain');
        drawStencil(ink, look.layers, look.frame, { x, y: y - LOOK_WORDS, share: LOOK / sideMm, isFramed: true });
      }
      y -= LOOK + LOOK_WORDS + 8;
    }
  };
  return {
    words,
    heading(title: string): void {
      waiting = title;
    },
    table({ caption, head, rows }: TableBlock): void {
      const widths = columnWidths([head, ...rows], fonts);
      const laid = [head, ...rows].map((row, r) => {
        const weight = weightOf(r);
        const cells = row.map((cell, i) => wrapped(cell, fonts[weight], TABLE, widths[i] - CELL_GAP));
        return { weight, cells, height: Math.max(...cells.map(({ length }) => length)) * TABLE * LINE };
      });
      const tall = (some: typeof laid): number => some.reduce((sum, { height }) => sum + height, 0);
      const write = ({ weight, cells, height }: (typeof laid)[number]): void => {
        let x = MARGIN;
        for (const [i, cell] of cells.entries()) {
          for (const [k, part] of cell.entries()) line(part, x, TABLE, weight, k * LINE * TABLE);
          x += widths[i];
        }
        y -= height;
      };
      const start = TEXT * LINE + 3;
      const whole = start + tall(laid);
      need(whole <= SHORT_TABLE ? whole : start + tall(laid.slice(0, 1 + TOGETHER)));
      words(caption, TEXT, 'plain');
      for (const [r, row] of laid.entries()) {
        // The last rows go together; a page that begins within the table begins with its head.
        const here = page;
        need(r > 0 && r === laid.length - TOGETHER ? tall(laid.slice(r)) : row.height);
        if (page !== here) write(laid[0]);
        write(row);
      }
      y -= 6;
    },
    stencil({ layers, words: caption }: StencilBlock): void {
      const frame = frameOf(layers);
      const [width, height] = [frame.maxX - frame.minX, frame.maxY - frame.minY];
      const most = Math.min(WIDTH / width, (PAGE.height - 2 * MARGIN - CAPTION - HEADING) / height);
      const share = heightFor(height * most, CAPTION, LEAST_STENCIL) / height;
      drawStencil(ink, layers, frame, { x: MARGIN, y, share });
      y -= height * share + 8;
      words(caption, TEXT, 'plain');
      closer(layers, share);
    },
    picture({ widthPx, heightPx, draw }: PlacePicture): void {
      const most = Math.min(PICTURE_WIDTH / widthPx, (PAGE.height - 2 * MARGIN - HEADING - 8) / heightPx);
      const height = heightFor(heightPx * most, 8, LEAST_PICTURE);
      const width = (widthPx * height) / heightPx;
      draw(page, { x: MARGIN, y: y - height, width, height });
      y -= height + 8;
    },
  };
}

/** Closer looks: so many in a row and in all; side and gaps in points; so many times as large as in the whole picture. */
const LOOKS_A_ROW = 3;
const MOST_LOOKS = 12;
const LOOK_GAP = 12;
const LOOK = (WIDTH - (LOOKS_A_ROW - 1) * LOOK_GAP) / LOOKS_A_ROW;
const LOOK_WORDS = 14;
const CLOSER = 1.5;
/** Room for the words below a picture. */
const CAPTION = 50;
const HEADING_TEXT = 12;
/** A heading with the room above and below it. */
const HEADING = 10 + HEADING_TEXT * LINE + 3;
/** Charts are not widened to the whole page. */
const PICTURE_WIDTH = 410;
/** The least shares of their size at which charts and stencils can still be read. */
const LEAST_PICTURE = 0.65;
const LEAST_STENCIL = 0.5;
const TABLE = 8.5;
const CELL_GAP = 8;
/** So many rows at either end of a table don't stand alone on a page. */
const TOGETHER = 3;
/** A table up to this tall is not torn apart. */
const SHORT_TABLE = 220;

const weightOf = (row: number): keyof PdfFonts => (row === 0 ? 'bold' : 'plain');

/** As wide as the widest cell; where that is too much, the widest columns are narrowed to one width. */
function columnWidths(rows: readonly (readonly string[])[], fonts: PdfFonts): number[] {
  const widths = rows[0].map((_, i) =>
    Math.max(
      ...rows.map((row, r) => fonts[weightOf(r)].widthOfTextAtSize(knownLetters(row[i] ?? ''), TABLE) + CELL_GAP),
    ),
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
  /** With a line around it. */
  readonly isFramed?: boolean;
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
  ink.clipped(box, () => {
    for (const { openings, outline } of shown) {
      const [good, doubtful] = byDoubt(openings).map((list) => list.map(({ region }) => region));
      ink.regions(good, at, outline ? TOLD : CUT, FINEST_MM);
      ink.regions(doubtful, at, outline ? { ...DOUBTFUL, fill: undefined } : DOUBTFUL, FINEST_MM);
    }
    const style = { colour: 'soft', align: 'middle' } as const;
    for (const { words, x, y, sizePt } of upon) ink.text(words, onPage(x, y), { ...style, sizePt });
    for (const { words, box: own, leader } of labelsBeside(beside, filled, ink, frame, share)) {
      if (leader)
        ink.polygon(
          leader.map(([x, y]): Point => [place.x + x, place.y - y]),
          TOLD,
        );
      const middle: Point = [place.x + (own.minX + own.maxX) / 2, place.y - own.minY - LABEL_FOOT];
      ink.text(words, middle, { ...style, sizePt: LABEL_TEXT });
    }
  });
  if (place.isFramed) ink.box(box, TOLD);
}

/** How far below the top of its box the foot of a label lies. */
const LABEL_FOOT = 0.8 * LABEL_TEXT;

/** Numbers beside what they name, doubtful ones first; in points from the upper left corner of the drawing. */
function labelsBeside(
  beside: readonly NumberedOpening[],
  all: readonly NumberedOpening[],
  ink: Ink,
  frame: Box,
  share: number,
): Label[] {
  const onPage = ({ region }: NumberedOpening): Box => {
    const box = regionBounds(region);
    return {
      ...{ minX: (box.minX - frame.minX) * share, maxX: (box.maxX - frame.minX) * share },
      ...{ minY: (frame.maxY - box.maxY) * share, maxY: (frame.maxY - box.minY) * share },
    };
  };
  const wishes = byDoubt(beside)
    .toReversed()
    .flat()
    .slice(0, MOST_LABELS)
    .map((opening) => {
      const words = `${opening.number}`;
      const width = ink.widthOf(words, { sizePt: LABEL_TEXT });
      return { words, width, height: LABEL_TEXT, around: onPage(opening), single: false };
    });
  const [width, height] = [(frame.maxX - frame.minX) * share, (frame.maxY - frame.minY) * share];
  const obstacles = wishes.length === 0 ? [] : all.map(onPage);
  return placeLabels(wishes, obstacles, { minX: 0, minY: 0, maxX: width, maxY: height });
}

/** What a closer look shows at the least, mm. */
const CLOSE_MM = 10;
/** So few neighbours are all named. */
const FEW = 25;

/** A part of a stencil to be looked at closely. */
interface CloseLook {
  readonly frame: Box;
  readonly layers: readonly StencilLayer[];
  /** Its doubtful openings, by number, the one in the middle first. */
  readonly numbers: readonly number[];
}

/** Square parts that hold doubtful openings, one after the other, at most so many; those that lie near each other share one. */
function closeLooks(layers: readonly StencilLayer[], most: number): CloseLook[] {
  const shown = layers.filter(({ hidden }) => !hidden);
  const boxed = shown.map(({ openings }) =>
    openings.map((opening) => ({ opening, box: regionBounds(opening.region) })),
  );
  // One of each size that a table names comes before more of the same.
  const doubtful = boxed
    .flat()
    .filter(({ opening }) => opening.doubtful && opening.number !== undefined)
    .sort((p, q) => Number(q.opening.named ?? false) - Number(p.opening.named ?? false));
  const looks: CloseLook[] = [];
  const seen = new Set<NumberedOpening>();
  for (const { opening, box } of doubtful) {
    if (looks.length >= most) break;
    if (seen.has(opening)) continue;
    const side = Math.max(CLOSE_MM, 1.2 * (box.maxX - box.minX), 1.2 * (box.maxY - box.minY));
    const frame = boxAround([(box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2], side, side);
    const whole = doubtful.filter((one) => boxWithin(one.box, frame));
    for (const one of whole) seen.add(one.opening);
    const near = boxed.map((list) => list.filter((one) => boxesNear(one.box, frame)));
    const named = near.every(({ length }) => length <= FEW);
    looks.push({
      frame,
      layers: shown.map((layer, i) => ({
        ...layer,
        openings: near[i].map((one) => (named ? { ...one.opening, named } : one.opening)),
      })),
      numbers: [opening, ...whole.map((one) => one.opening)].flatMap((one) => one.number ?? []),
    });
  }
  return looks;
}

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

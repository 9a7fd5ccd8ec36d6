import { deflateSync } from 'node:zlib';
import type { PDFFont, PDFPage } from 'pdf-lib';
import { copyOf, oncePerShape } from '../geometry/copies.js';
import { simplifyRing } from '../geometry/simplify.js';
import type { Box, Point, Region } from '../geometry/types.js';
import { present } from '../kept.js';
import { knownLetters, type PdfFonts, PT_PER_MM } from '../pdf-file.js';

/** Paper sizes in mm: ISO 216 A4, and ANSI Letter (8.5 x 11 in). */
export const PAPERS = { a4: [210, 297], letter: [215.9, 279.4] } as const;

export type Paper = keyof typeof PAPERS;

/** Colours that stay apart in grey print and for colour-blind readers. */
const COLOURS = {
  black: [0, 0, 0],
  soft: [0.1, 0.1, 0.1],
  grey: [0.75, 0.75, 0.75],
  opening: [0.8, 0.8, 0.8],
  rule: [0.55, 0.55, 0.55],
  arrow: [0, 0.27, 0.6],
  white: [1, 1, 1],
  cut: [0.56, 0.78, 0.91],
  wall: [0.07, 0.29, 0.42],
  doubt: [0.94, 0.71, 0.54],
  'doubtful wall': [0.64, 0.24, 0],
} as const;

export type InkColour = keyof typeof COLOURS;

/** How a shape is drawn: filled, with a line around it, or both. */
export interface InkLook {
  readonly fill?: InkColour;
  readonly line?: InkColour;
  /** Of the line. */
  readonly width?: number;
  /** Of the line, points. */
  readonly dash?: readonly number[];
}

export interface TextStyle {
  readonly sizePt: number;
  readonly bold?: boolean;
  readonly colour?: InkColour;
  /** Where `at` lies in the text; default left. */
  readonly align?: 'left' | 'middle' | 'right';
  /** Unit vector along which the text runs; default to the right. */
  readonly along?: Point;
}

export type Ink = ReturnType<typeof inkOn>;

/**
 * Draws on a page, y up from the lower left corner of the paper. All of it comes onto the page at once, as one packed
 * stream: an object for each line would take ten times the time and the memory.
 *
 * @param ptPerUnit - of all lengths; default: they are mm
 */
export function inkOn(page: PDFPage, fonts: PdfFonts, ptPerUnit = PT_PER_MM) {
  const operators: string[] = [];
  const keys = {
    plain: page.node.newFontDictionary('Plain', fonts.plain.ref).asString(),
    bold: page.node.newFontDictionary('Bold', fonts.bold.ref).asString(),
  };
  /** To a thousandth of a point, a third of a micrometre. */
  const pt = (length: number): number => Math.round(length * ptPerUnit * 1000) / 1000;
  const place = ([x, y]: Point): string => `${pt(x)} ${pt(y)}`;
  const rgb = (colour: InkColour): string => COLOURS[colour].join(' ');
  const fontOf = ({ bold }: TextStyle): PDFFont => (bold ? fonts.bold : fonts.plain);
  const widthOf = (words: string, style: TextStyle): number =>
    fontOf(style).widthOfTextAtSize(knownLetters(words), style.sizePt) / ptPerUnit;
  const trace = (ring: readonly Point[]): string =>
    `${ring.map((p, i) => `${place(p)} ${i === 0 ? 'm' : 'l'}`).join(' ')} h`;
  const rectangle = ({ minX, minY, maxX, maxY }: Box): string =>
    `${place([minX, minY])} ${place([maxX - minX, maxY - minY])} re`;
  const within = (begin: string, draw: () => void): void => {
    operators.push(`q ${begin}`);
    draw();
    operators.push('Q');
  };
  const begin = ({ fill, line, width = 0, dash }: InkLook): string =>
    present(
      fill && `${rgb(fill)} rg`,
      line && `${rgb(line)} RG ${pt(width)} w`,
      dash && `[${dash.join(' ')}] 0 d`,
    ).join(' ');
  const end = ({ fill, line }: InkLook): string => (!fill ? 'S' : line ? 'B*' : 'f*');
  const draw = (path: string, look: InkLook): void => {
    if (look.dash) within(begin(look), () => void operators.push(`${path} ${end(look)}`));
    else operators.push(`${begin(look)} ${path} ${end(look)}`);
  };
  return {
    widthOf,
    text(words: string, [x, y]: Point, style: TextStyle): void {
      const share = style.align === 'middle' ? 0.5 : style.align === 'right' ? 1 : 0;
      const back = share * widthOf(words, style);
      const [ux, uy] = style.along ?? [1, 0];
      const turn = [ux, uy, -uy, ux].map((part) => Number(part.toFixed(5))).join(' ');
      operators.push(
        `BT ${rgb(style.colour ?? 'black')} rg ${style.bold ? keys.bold : keys.plain} ${style.sizePt} Tf ${turn} ${place([x - ux * back, y - uy * back])} Tm ${fontOf(style).encodeText(knownLetters(words)).toString()} Tj ET`,
      );
    },
    line(from: Point, to: Point, width: number, colour: InkColour = 'black'): void {
      draw(`${place(from)} m ${place(to)} l`, { line: colour, width });
    },
    box: (box: Box, look: InkLook): void => draw(rectangle(box), look),
    polygon: (ring: readonly Point[], look: InkLook): void => draw(trace(ring), look),
    /**
     * Each region as its shape, moved to its place, so that all copies share one text.
     *
     * @param map - onto the paper: X to X and Y to Y, straight
     * @param finestMm - corners nearer to their neighbours' line than this are not drawn
     */
    regions(regions: readonly Region[], map: (mm: Point) => Point, look: InkLook, finestMm = 0): void {
      const [[x0, y0], [x1, y1]] = [map([0, 0]), map([1, 1])];
      const [scaleX, scaleY] = [x1 - x0, y1 - y0];
      const pathOf = oncePerShape(({ outer, islands }: Region): string =>
        [outer, ...islands]
          .map((ring) => (finestMm > 0 ? simplifyRing(ring, finestMm) : ring))
          .map((ring) => trace(ring.map(([x, y]): Point => [x * scaleX, y * scaleY])))
          .join(' '),
      );
      within(begin(look), () => {
        for (const region of regions) {
          const { dx, dy } = copyOf(region) ?? { dx: 0, dy: 0 };
          const at = place([x0 + dx * scaleX, y0 + dy * scaleY]);
          operators.push(`q 1 0 0 1 ${at} cm ${pathOf(region)} ${end(look)} Q`);
        }
      });
    },
    /** Cuts off what reaches out of a box. */
    clipped: (box: Box, drawing: () => void): void => within(`${rectangle(box)} W n`, drawing),
    done(): void {
      const { context } = page.doc;
      const stream = context.stream(deflateSync(operators.join('\n')), { Filter: 'FlateDecode' });
      page.node.addContentStream(context.register(stream));
    },
  };
}

import type { PDFFont, PDFPage } from 'pdf-lib';
import type { Point, Region } from '../geometry/types.js';
import { knownLetters, type PdfFonts, PT_PER_MM } from '../pdf-file.js';

/** Paper sizes in mm: ISO 216 A4, and ANSI Letter (8.5 x 11 in). */
export const PAPERS = { a4: [210, 297], letter: [215.9, 279.4] } as const;

export type Paper = keyof typeof PAPERS;

/** Colours that stay apart in grey print and for colour-blind readers. */
const COLOURS = {
  black: [0, 0, 0],
  opening: [0.8, 0.8, 0.8],
  rule: [0.55, 0.55, 0.55],
  arrow: [0, 0.27, 0.6],
  white: [1, 1, 1],
} as const;

export type InkColour = keyof typeof COLOURS;

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

/** Draws on a page in mm, y up from the lower left corner of the paper. */
export function inkOn(page: PDFPage, fonts: PdfFonts, operators: string[]) {
  const pt = (mm: number): string => (mm * PT_PER_MM).toFixed(3);
  const rgb = (colour: InkColour): string => COLOURS[colour].join(' ');
  const fontOf = (style: TextStyle): PDFFont => (style.bold ? fonts.bold : fonts.plain);
  const widthMm = (words: string, style: TextStyle): number =>
    fontOf(style).widthOfTextAtSize(knownLetters(words), style.sizePt) / PT_PER_MM;
  const keys = {
    plain: page.node.newFontDictionary('Plain', fonts.plain.ref).asString(),
    bold: page.node.newFontDictionary('Bold', fonts.bold.ref).asString(),
  };
  const trace = (ring: readonly Point[]): string =>
    `${ring.map(([x, y], i) => `${pt(x)} ${pt(y)} ${i === 0 ? 'm' : 'l'}`).join(' ')} h`;
  return {
    widthMm,
    text(words: string, [x, y]: Point, style: TextStyle): void {
      const share = style.align === 'middle' ? 0.5 : style.align === 'right' ? 1 : 0;
      const back = share * widthMm(words, style);
      const [ux, uy] = style.along ?? [1, 0];
      const start = `${pt(x - ux * back)} ${pt(y - uy * back)}`;
      const [c, s] = [ux.toFixed(5), uy.toFixed(5)];
      const place = style.along ? `${c} ${s} ${(-uy).toFixed(5)} ${c} ${start} Tm` : `${start} Td`;
      operators.push(
        `BT ${rgb(style.colour ?? 'black')} rg ${style.bold ? keys.bold : keys.plain} ${style.sizePt} Tf ${place} ${fontOf(style).encodeText(knownLetters(words)).toString()} Tj ET`,
      );
    },
    line([x0, y0]: Point, [x1, y1]: Point, lineMm: number, colour: InkColour = 'black'): void {
      operators.push(`${rgb(colour)} RG ${pt(lineMm)} w ${pt(x0)} ${pt(y0)} m ${pt(x1)} ${pt(y1)} l S`);
    },
    box(x: number, y: number, width: number, height: number, style: { fill?: InkColour; lineMm?: number }): void {
      const { fill, lineMm } = style;
      const rectangle = `${pt(x)} ${pt(y)} ${pt(width)} ${pt(height)} re`;
      if (fill) operators.push(`${rgb(fill)} rg ${rectangle} f`);
      if (lineMm !== undefined) operators.push(`${rgb('rule')} RG ${pt(lineMm)} w ${rectangle} S`);
    },
    polygon(ring: readonly Point[], colour: InkColour): void {
      operators.push(`${rgb(colour)} rg ${trace(ring)} f`);
    },
    /** The line around a polygon. */
    ring(ring: readonly Point[], lineMm: number, colour: InkColour = 'black'): void {
      operators.push(`${rgb(colour)} RG ${pt(lineMm)} w ${trace(ring)} S`);
    },
    /** Openings through a map. */
    openings(regions: readonly Region[], map: (p: Point) => Point, colour: InkColour): void {
      const paths = regions.flatMap(({ outer, islands }) => [outer, ...islands].map((ring) => trace(ring.map(map))));
      if (paths.length > 0) operators.push(`${rgb(colour)} rg ${paths.join(' ')} f*`);
    },
  };
}

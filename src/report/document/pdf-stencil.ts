import type { PDFFont, PDFPage } from 'pdf-lib';
import type { Box } from '../../geometry/types.js';
import type { StencilLayer } from './blocks.js';
import { byDoubt, numberOn, ringsOf } from './draw-stencil.js';

/** Where a drawing's upper left corner goes on the page, points, and how large a millimetre is there. */
interface Place {
  readonly x: number;
  readonly y: number;
  readonly share: number;
}

const LINE = 0.25;
type Colour = readonly [number, number, number];
const OPEN: Colour = [0.56, 0.78, 0.91];
const WALL: Colour = [0.07, 0.29, 0.42];
const DOUBT: Colour = [0.94, 0.71, 0.54];
const DOUBT_WALL: Colour = [0.64, 0.24, 0];
const INK: Colour = [0.1, 0.1, 0.1];

/** Gives what draws a stencil as lines and text, not as dots: a reader may look as closely as he likes. */
export async function stencilOperators(font: PDFFont) {
  const lib = await import('pdf-lib');
  const { PDFOperator: Operator, PDFOperatorNames: Names } = lib;
  const short = (value: number): number => Number(value.toFixed(3));

  return (page: PDFPage, layers: readonly StencilLayer[], frame: Box, place: Place): void => {
    const at = (x: number, y: number): [number, number] => [
      short(place.x + (x - frame.minX) * place.share),
      short(place.y - (frame.maxY - y) * place.share),
    ];
    const walls = (openings: StencilLayer['openings'], wall: Colour, fill?: Colour): void => {
      if (openings.length === 0) return;
      page.pushOperators(
        lib.pushGraphicsState(),
        lib.setLineWidth(LINE),
        lib.setStrokingRgbColor(...wall),
        ...(fill ? [lib.setFillingRgbColor(...fill)] : []),
      );
      for (const ring of openings.flatMap(({ regions }) => ringsOf(regions))) {
        page.pushOperators(
          ...ring.map(([x, y], i) => (i === 0 ? lib.moveTo : lib.lineTo)(...at(x, y))),
          lib.closePath(),
        );
      }
      page.pushOperators(fill ? Operator.of(Names.FillEvenOddAndStroke) : lib.stroke(), lib.popGraphicsState());
    };
    const shown = layers.filter(({ hidden }) => !hidden);
    for (const { openings, outline } of shown) {
      const [good, doubtful] = byDoubt(openings);
      walls(good, outline ? INK : WALL, outline ? undefined : OPEN);
      walls(doubtful, outline ? INK : DOUBT_WALL, outline ? undefined : DOUBT);
    }
    const key = page.node.newFontDictionary(font.name, font.ref);
    page.pushOperators(lib.beginText(), lib.setFillingRgbColor(...INK));
    for (const opening of shown.flatMap(({ openings, outline }) => (outline ? [] : openings))) {
      const number = numberOn(opening, frame);
      if (!number) continue;
      const size = number.sizeMm * place.share;
      const [x, y] = at(number.x + frame.minX, frame.maxY - number.y);
      page.pushOperators(
        lib.setFontAndSize(key, short(size)),
        lib.setTextMatrix(1, 0, 0, 1, short(x - font.widthOfTextAtSize(number.words, size) / 2), y),
        lib.showText(font.encodeText(number.words)),
      );
    }
    page.pushOperators(lib.endText());
  };
}

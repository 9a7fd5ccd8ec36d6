import type { PDFFont, PDFPage } from 'pdf-lib';
import type { Box } from '../../geometry/types.js';
import { addOperators, pdfPaths, points } from '../pdf-paths.js';
import type { StencilLayer } from './blocks.js';
import { byDoubt, FINEST_MM, numberOn } from './draw-stencil.js';

/** Where a drawing's upper left corner goes on the page, points, and how large a millimetre is there. */
interface Place {
  readonly x: number;
  readonly y: number;
  readonly share: number;
}

const LINE = 0.25;
/** Red, green and blue, 0 to 1. */
const OPEN = '0.56 0.78 0.91';
const WALL = '0.07 0.29 0.42';
const DOUBT = '0.94 0.71 0.54';
const DOUBT_WALL = '0.64 0.24 0';
const INK = '0.1 0.1 0.1';

/** Draws a stencil as lines and text, not as dots: a reader may look as closely as he likes. */
export function drawStencil(
  page: PDFPage,
  font: PDFFont,
  layers: readonly StencilLayer[],
  frame: Box,
  place: Place,
): void {
  const x = (mm: number): number => place.x + (mm - frame.minX) * place.share;
  const y = (mm: number): number => place.y - (frame.maxY - mm) * place.share;
  const draw = pdfPaths(x, y, FINEST_MM);
  const walls = (openings: StencilLayer['openings'], wall: string, fill?: string): string[] => [
    `q ${LINE} w ${wall} RG${fill ? ` ${fill} rg` : ''}`,
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

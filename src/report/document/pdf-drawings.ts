import { deflateSync } from 'node:zlib';
import type { PDFDocument, PDFFont, PDFPage } from 'pdf-lib';
import type { Box } from '../../geometry/types.js';
import { addOperators, pdfPaths, points } from '../pdf-paths.js';
import { svgToPixels } from '../picture.js';
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

/** Pictures are drawn with so many dots across the page. */
const PICTURE_DOTS = 1300;

/** A picture that is in the file, and what draws it on a page; lower left corner and size in points. */
export interface PlacePicture {
  readonly widthPx: number;
  readonly heightPx: number;
  readonly draw: (page: PDFPage, box: { x: number; y: number; width: number; height: number }) => void;
}

/** Puts an SVG as dots into a PDF. Straight from the renderer: as PNG it would be packed, unpacked and packed once more. */
export async function placePicture(svg: string, document: PDFDocument): Promise<PlacePicture> {
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

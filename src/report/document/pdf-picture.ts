import { deflateSync } from 'node:zlib';
import type { PDFDocument, PDFPage } from 'pdf-lib';
import { svgToPixels } from '../picture.js';

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

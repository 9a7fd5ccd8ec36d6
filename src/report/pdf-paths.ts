import { deflateSync } from 'node:zlib';
import type { PDFPage } from 'pdf-lib';
import { copyOf, oncePerShape } from '../geometry/copies.js';
import { simplifyRing } from '../geometry/simplify.js';
import type { Region } from '../geometry/types.js';

/**
 * Writes regions as paths of a PDF: each is its shape, moved to its place, so that all copies share one text.
 *
 * @param x - from mm to page points, straight; so is `y`
 * @param finestMm - corners nearer to their neighbours' line than this are not drawn
 */
export function pdfPaths(
  x: (mm: number) => number,
  y: (mm: number) => number,
  finestMm: number,
): (region: Region, paint: string) => string {
  const [x0, y0] = [x(0), y(0)];
  const [scaleX, scaleY] = [x(1) - x0, y(1) - y0];
  const pathOf = oncePerShape(({ outer, islands }: Region): string =>
    [outer, ...islands]
      .map((ring) => simplifyRing(ring, finestMm))
      .map((ring) => ring.map((p, i) => `${points(p[0] * scaleX)} ${points(p[1] * scaleY)} ${i === 0 ? 'm' : 'l'}`))
      .map((lines) => `${lines.join(' ')} h`)
      .join(' '),
  );
  return (region, paint) => {
    const { dx, dy } = copyOf(region) ?? { dx: 0, dy: 0 };
    return `q 1 0 0 1 ${points(x0 + dx * scaleX)} ${points(y0 + dy * scaleY)} cm ${pathOf(region)} ${paint} Q`;
  };
}

/** Page points to a thousandth, a third of a micrometre. */
export const points = (value: number): number => Math.round(value * 1000) / 1000;

/** Adds a packed stream of operators to a page: an object for each would take ten times the time and the memory. */
export function addOperators({ doc: { context }, node }: PDFPage, operators: readonly string[]): void {
  const stream = context.stream(deflateSync(operators.join('\n')), { Filter: 'FlateDecode' });
  node.addContentStream(context.register(stream));
}

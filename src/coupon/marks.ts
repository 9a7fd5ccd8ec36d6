import { boxRing } from '../geometry/shapes.js';
import type { Laying } from './laying.js';
import type { MarksElement } from './pattern.js';

/** Shares of a step by which rows and columns are shifted; multiples of the golden ratio never repeat and never cluster. */
const SHIFT = (Math.sqrt(5) - 1) / 2;

/**
 * Equal squares all over the free bed, no two rows or columns in line: so many places along each axis show a wave of
 * any period, and no turn or shift of the marks looks like another. They are no features: only their places are read.
 */
export function layMarks({ sheet, number }: Laying, element: MarksElement): void {
  const { grid } = sheet;
  const [side, spacing] = (['sizeMm', 'spacingMm'] as const).map((name) => number(element[name], name));
  const [wide, high] = [grid.count('x', side), grid.count('y', side)];
  const [width, height] = [grid.mm('x', grid.columns), grid.mm('y', grid.rows)];
  const [columns, rows] = [Math.floor(width / spacing), Math.floor(height / spacing)];
  const shifted = (n: number): number => (n * SHIFT) % 1;
  for (let j = 0; j < rows; j += 1) {
    for (let i = 0; i < columns; i += 1) {
      const minX = grid.dots('x', ((i + shifted(j)) * width) / columns);
      const minY = grid.dots('y', ((j + shifted(i)) * height) / rows);
      const box = { minX, minY, maxX: minX + wide, maxY: minY + high };
      if (sheet.isFree(boxRing(grid.boxMm(box)))) sheet.addRectangle(box, sheet.newGroup());
    }
  }
}

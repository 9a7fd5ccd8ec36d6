import svgpath from 'svgpath';
import { describe, expect, it } from 'vitest';
import { openingArea } from '../../src/geometry/area.js';
import { copyAt } from '../../src/geometry/copies.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import { type RegionPen, regionPaths } from '../../src/report/svg-paths.js';

const pen: RegionPen = { at: ([x, y]) => [10 * x, 5 - 10 * y], decimals: 2, pxPerMm: 10 };

/** Signed area of all rings of a path, by an independent reader of paths. */
function areaOf(d: string): number {
  let [twice, x0, y0, x, y] = [0, 0, 0, 0, 0];
  svgpath(d)
    .abs()
    .iterate(([command, ...to]) => {
      const [nx, ny] = command === 'Z' ? [x0, y0] : (to as number[]);
      if (command === 'M') [x0, y0] = [nx, ny];
      else twice += x * ny - nx * y;
      [x, y] = [nx, ny];
    });
  return twice / 2;
}

describe('paths of regions', () => {
  it('enclose what the regions do, islands and copies too', () => {
    const frame = { outer: rectangle(0, 0, 3, 2), islands: [rectangle(1, 0.5, 2, 1.5).toReversed()] };
    const disc = solid(ellipse(0, 0, 0.4));
    const regions = [frame, ...Array.from({ length: 100 }, (_, i) => copyAt(i % 2 ? disc : frame, 4 * i, i / 3))];
    const paths = regionPaths(regions, pen);
    expect(paths).toHaveLength(2);
    const wanted = regions.reduce((sum, region) => sum + openingArea(region), 0) * 100;
    const drawn = Math.abs(paths.reduce((sum, d) => sum + areaOf(d), 0));
    // Discs lose corners that lie nearer than a tenth of a pixel to their neighbours' line.
    expect(Math.abs(drawn / wanted - 1)).toBeLessThan(0.01);
  });

  it('come to where the regions lie', () => {
    expect(regionPaths([copyAt(solid(rectangle(0, 0, 1, 2)), 3, 4)], pen)).toEqual(['M30 -35l10 0 0 -20 -10 0z']);
  });
});

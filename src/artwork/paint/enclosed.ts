import { openingArea } from '../../geometry/area.js';
import { moveWalls } from '../../geometry/reshape.js';
import { solid } from '../../geometry/shapes.js';
import type { Point, Region, Ring } from '../../geometry/types.js';
import { unite } from './unite.js';

/** A line as strips, each longer by half its width at both ends, so that lines that nearly meet hang together. */
export function strips(points: readonly Point[], widthMm: number): Region[] {
  return points.slice(1).map(([x, y], i) => {
    const [x0, y0] = points[i];
    const reach = widthMm / 2 / (Math.hypot(x - x0, y - y0) || Infinity);
    const [dx, dy] = [(x - x0) * reach, (y - y0) * reach];
    return solid([
      [x0 - dx + dy, y0 - dy - dx],
      [x + dx + dy, y + dy - dx],
      [x + dx - dy, y + dy + dx],
      [x0 - dx - dy, y0 - dy + dx],
    ]);
  });
}

/**
 * What lines go around, whatever their order and direction and how often they are drawn: of strips that hang together
 * all that lies within, drawn in to their middle. What ends loose is drawn in to nothing.
 *
 * @returns outer rings, counter-clockwise, and how many sets of lines enclose nothing
 */
export function enclosed(lines: readonly Region[], widthMm: number): { rings: Ring[]; open: number } {
  const within = unite(lines).map(({ outer }) =>
    moveWalls(solid(outer), -widthMm / 2).filter((part) => openingArea(part) > widthMm ** 2),
  );
  return { rings: within.flat().map(({ outer }) => outer), open: within.filter((parts) => parts.length === 0).length };
}

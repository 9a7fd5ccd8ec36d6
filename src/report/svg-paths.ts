import { type PathPen, pathWriter } from '../export/formats/svg.js';
import type { Region } from '../geometry/types.js';

/** How regions are drawn: from mm to the picture's own units, by scaling and shifting alone. */
export interface RegionPen extends Omit<PathPen, 'finestMm'> {
  readonly pxPerMm: number;
}

/** Corners nearer to their neighbours' line than this are not drawn, px: arcs have a point every micrometre. */
const FINEST_PX = 0.1;

/** So many regions share one element. A renderer looks at all walls of a path in each row of dots, so that one path of
 * 16,000 openings takes four times as long as many of a few dozen. */
const REGIONS_A_PATH = 64;

/** The `d` of SVG paths that draw regions, some dozens of regions a path. */
export function regionPaths(regions: readonly Region[], pen: RegionPen): string[] {
  const draw = pathWriter({ ...pen, finestMm: FINEST_PX / pen.pxPerMm });
  const paths: string[] = [];
  for (let i = 0; i < regions.length; i += REGIONS_A_PATH) {
    const some = regions.slice(i, i + REGIONS_A_PATH);
    paths.push(some.map(draw).join(''));
  }
  return paths;
}

import type { Warning } from '../../errors.js';
import { ringArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import { moveWalls } from '../../geometry/reshape.js';
import type { Point, Ring } from '../../geometry/types.js';
import { chainPaths } from './chain.js';
import type { PaintedObject } from './compose.js';
import type { Paint } from './drawing.js';
import { fillRings } from './fill.js';

/** A line that no film could hold as an opening; only outlines are drawn so thin. */
const THIN_MM = 0.15;
/** Wider lines than this are drawn inside or along the land's edge, and their outer edge is the land's, mm. */
const HAIRLINE_MM = 0.05;
/** The line is at most this share of the shape's smaller side. */
const THIN_SHARE = 0.25;
const JOIN_GAP_MM = 0.01;
/** Joining loose lines costs time with the square of their number. */
const MAX_LOOSE = 3000;

/**
 * Artwork drawn as outlines: nothing is filled, all lines are thin and close. Such shapes are filled before they are
 * burnt.
 *
 * @returns the filled shapes, or undefined when the artwork is not of that kind
 */
export function filledOutlines(paints: readonly Paint[], warnings: Warning[]): PaintedObject[] | undefined {
  if (paints.length === 0 || !paints.every(({ lines }) => lines && lines.widthMm <= THIN_MM)) return undefined;
  const rings: Ring[] = [];
  const loose: (readonly Point[])[] = [];
  let widthMm = 0;
  for (const { lines } of paints) {
    widthMm = Math.max(widthMm, lines?.widthMm ?? 0);
    for (const { points, closed } of lines?.polylines ?? []) {
      if (closed || samePoint(points[0], points[points.length - 1])) rings.push(points);
      else loose.push(points);
    }
  }
  if (loose.length > MAX_LOOSE) return undefined;
  if (loose.length > 0) {
    const chained = chainPaths(loose, JOIN_GAP_MM);
    if (chained.open.length > 0) return undefined;
    for (const ring of chained.rings) rings.push(ring);
  }
  const large = rings.every((ring) => {
    const { minX, minY, maxX, maxY } = ringBounds(ring);
    return Math.abs(ringArea(ring)) > 0 && widthMm <= THIN_SHARE * Math.min(maxX - minX, maxY - minY);
  });
  if (rings.length === 0 || !large) return undefined;
  const grow = widthMm > HAIRLINE_MM ? widthMm / 2 : 0;
  const filled = fillRings(rings, 'evenodd').flatMap((region) => moveWalls(region, grow));
  warnings.push({
    code: 'OUTLINES_FILLED',
    message:
      `the artwork is drawn as outlines, with lines of at most ${Number(widthMm.toFixed(3))} mm and no fills; ` +
      `the shapes were filled up to the lines' ${grow > 0 ? 'outer edge' : 'middle'}.`,
    hint: 'Export it with filled shapes if that is not what is wanted.',
  });
  return filled.map((region) => ({ dark: true, regions: [region], tag: { drawn: 'path' } }));
}

function samePoint(p: Point, q: Point): boolean {
  return Math.abs(p[0] - q[0]) < 1e-6 && Math.abs(p[1] - q[1]) < 1e-6;
}

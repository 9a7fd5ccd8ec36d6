import { mapPoint, openingMapper } from '../geometry/affine.js';
import { copyAt, markClean } from '../geometry/copies.js';
import type { Affine, Box, Opening, Point, Ring } from '../geometry/types.js';
import { distance } from '../geometry/walls.js';
import { kept } from '../kept.js';

/** Equal openings that are stretched alike to this, mm at their sides, stay copies of one shape. */
const ALIKE_MM = 0.0005;
/** An opening over which the map bends by more than this, mm, is mapped corner by corner, its walls split. */
const BENT_MM = 0.0015;
const SPLIT_MM = 0.0005;
const MOST_SPLITS = 12;
const LEAST_HALF_MM = 0.05;

/**
 * Openings laid through a map that is nearly the identity and changes slowly over the bed. An opening is moved, stretched
 * and turned as the map does at its place, so that equal pads stay nearly equal and straight walls straight: on a bed with
 * 0.3 mm of barrel the stretch is up to 1 % (20 um of a pad of 2 mm), and the bend within a pad of 10 mm below 2 um.
 *
 * @param groups - for each opening, the index of what it belongs to, which is laid as a whole
 * @param boxes - of each group, over which the map is looked at
 * @param uprightBelowMm - walls that would lean or bend by less stay upright and straight, for dots
 */
export function layByPlace(
  openings: readonly Opening[],
  groups: readonly number[],
  boxes: readonly (Box | undefined)[],
  map: (p: Point) => Point,
  uprightBelowMm = 0,
): Opening[] {
  const local = boxes.map((box) => box && localMap(map, box, uprightBelowMm));
  const stretched = new Map<string, (opening: Opening) => Opening>();
  const lay = (opening: Opening, { e, f, ...linear }: Affine): Opening => {
    const key = Object.values(linear).join();
    const stretch = kept(stretched, key, () => openingMapper({ ...linear, e: 0, f: 0 }));
    return copyAt(stretch(opening), e, f, opening.tag);
  };
  return openings.map((opening, i) => {
    const own = local[groups[i]];
    return own ? lay(opening, own) : bentOpening(opening, map);
  });
}

/** The map about the middle of a box as an affine one; undefined where it bends too much for that. */
function localMap(map: (p: Point) => Point, box: Box, uprightBelowMm: number): Affine | undefined {
  const [x, y] = [(box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2];
  const halfX = Math.max(LEAST_HALF_MM, (box.maxX - box.minX) / 2);
  const halfY = Math.max(LEAST_HALF_MM, (box.maxY - box.minY) / 2);
  const sides = [-1, 0, 1];
  // Columns from the left, each from below: of a square of nine places the middle one and those along the axes.
  const looked = sides.flatMap((i) =>
    sides.map((j): readonly [Point, Point] => {
      const from: Point = [x + i * halfX, y + j * halfY];
      return [from, map(from)];
    }),
  );
  const [left, down, middle, up, right] = [1, 3, 4, 5, 7].map((k) => looked[k][1]);
  const step = ALIKE_MM / Math.max(halfX, halfY);
  const round = (value: number): number => Math.round(value / step) * step;
  const a = 1 + round((right[0] - left[0]) / (2 * halfX) - 1);
  const c = round((right[1] - left[1]) / (2 * halfX));
  const b = round((up[0] - down[0]) / (2 * halfY));
  const d = 1 + round((up[1] - down[1]) / (2 * halfY) - 1);
  const leans = Math.max(Math.abs(b) * 2 * halfY, Math.abs(c) * 2 * halfX) >= uprightBelowMm;
  const [mx, my] = middle;
  const exact: Affine = { a, b, c, d, e: mx - a * x - b * y, f: my - c * x - d * y };
  const most = Math.max(BENT_MM, uprightBelowMm);
  const off = looked.some(([from, to]) => distance(mapPoint(exact, from), to) > most);
  if (off) return undefined;
  return leans ? exact : { a, b: 0, c: 0, d, e: mx - a * x, f: my - d * y };
}

function bentOpening(opening: Opening, map: (p: Point) => Point): Opening {
  const ring = (points: Ring): Ring => points.flatMap((p, i) => wall(p, points[(i + 1) % points.length], map, 0));
  const { outer, islands, tag } = opening;
  return markClean({ outer: ring(outer), islands: islands.map(ring), ...(tag ? { tag } : {}) });
}

/** A wall as the map bends it, without its end. */
function wall(p: Point, q: Point, map: (p: Point) => Point, depth: number): Point[] {
  const [from, to] = [map(p), map(q)];
  const middle: Point = [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
  const [mx, my] = map(middle);
  const sag = Math.hypot(mx - (from[0] + to[0]) / 2, my - (from[1] + to[1]) / 2);
  if (sag < SPLIT_MM || depth >= MOST_SPLITS) return [from];
  return [...wall(p, middle, map, depth + 1), ...wall(middle, q, map, depth + 1)];
}

import { rotation } from './affine.js';
import { reachAlong, ringBounds } from './bounds.js';
import type { Point, Region, Ring } from './types.js';

/** A rectangle at any angle. */
export interface OrientedBox {
  readonly centre: Point;
  /** Extent along the direction `angleDeg`, mm. */
  readonly widthMm: number;
  /** Extent square to it, mm. */
  readonly heightMm: number;
  /** Direction of the width, degrees counter-clockwise from +X, in (-45, 45]; 0 for shapes square to the axes. */
  readonly angleDeg: number;
}

/** A slanted rectangle must be this much smaller than the upright one to be preferred: round shapes stay upright. */
const UPRIGHT_PREFERENCE = 0.999;

/** Corners of the convex hull, counter-clockwise (Andrew's monotone chain). */
export function convexHull(points: Ring): Ring {
  const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  if (sorted.length < 3) return sorted;
  const half = (list: readonly Point[]): Point[] => {
    const chain: Point[] = [];
    for (const p of list) {
      while (chain.length >= 2 && turn(chain[chain.length - 2], chain[chain.length - 1], p) <= 0) chain.pop();
      chain.push(p);
    }
    chain.pop();
    return chain;
  };
  return [...half(sorted), ...half(sorted.toReversed())];
}

function turn(a: Point, b: Point, c: Point): number {
  return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

/**
 * The smallest rectangle around a ring, at the ring's own angle.
 *
 * @param ring - mm, at least three points
 * @returns upright (angle 0) when no slanted rectangle is smaller by more than 0.1 %
 * @remarks One side of the smallest rectangle lies along a side of the convex hull (Freeman and Shapira, "Determining
 * the minimum-area encasing rectangle for an arbitrary closed curve", Communications of the ACM 18 (1975)).
 */
export function orientedBox(ring: Ring): OrientedBox {
  const upright = ringBounds(ring);
  const uprightBox: OrientedBox = {
    centre: [(upright.minX + upright.maxX) / 2, (upright.minY + upright.maxY) / 2],
    widthMm: upright.maxX - upright.minX,
    heightMm: upright.maxY - upright.minY,
    angleDeg: 0,
  };
  if (isUprightRectangle(ring)) return uprightBox;
  const hull = convexHull(ring);
  const extremes = [0, 1, 2, 3].map(() => new Farthest(hull));
  let best = uprightBox;
  let bestArea = uprightBox.widthMm * uprightBox.heightMm * UPRIGHT_PREFERENCE;
  for (let i = 0; i < hull.length; i += 1) {
    const p = hull[i];
    const q = hull[(i + 1) % hull.length];
    const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
    const sides: Point[] = [
      [dx, dy],
      [-dy, dx],
      [-dx, -dy],
      [dy, -dx],
    ];
    const corners = sides.map((side, k) => extremes[k].along(side));
    const box = boxAlong(corners, dx, dy);
    const area = box.widthMm * box.heightMm;
    if (area < bestArea * (1 - 1e-12)) {
      best = box;
      bestArea = area;
    }
  }
  return best;
}

/** The corner of a hull that reaches farthest in a direction; directions come in turn, counter-clockwise. */
class Farthest {
  private at: number | undefined;

  constructor(private readonly hull: Ring) {}

  along([dx, dy]: Point): Point {
    const { hull } = this;
    const reach = (i: number): number => hull[i % hull.length][0] * dx + hull[i % hull.length][1] * dy;
    let at = this.at ?? hull.reduce((most, _, i) => (reach(i) > reach(most) ? i : most), 0);
    for (let looked = 0; looked < hull.length && reach(at + 1) >= reach(at); looked += 1) at += 1;
    this.at = at % hull.length;
    return hull[this.at];
  }
}

function isUprightRectangle(ring: Ring): boolean {
  return ring.length === 4 && ring.every((p, i) => p[0] === ring[(i + 1) % 4][0] || p[1] === ring[(i + 1) % 4][1]);
}

/** @param corners - those of a hull, or the farthest ones along and square to the direction */
function boxAlong(corners: Ring, dx: number, dy: number): OrientedBox {
  const length = Math.hypot(dx, dy);
  const [ux, uy] = nearestToX(dx / length, dy / length);
  const [minU, maxU] = reachAlong(corners, [ux, uy]);
  const [minV, maxV] = reachAlong(corners, [-uy, ux]);
  const [u, v] = [(minU + maxU) / 2, (minV + maxV) / 2];
  return {
    centre: [u * ux - v * uy, u * uy + v * ux],
    widthMm: maxU - minU,
    heightMm: maxV - minV,
    angleDeg: (Math.atan2(uy, ux) * 180) / Math.PI,
  };
}

/** Walls that are shorter than this share of the longest extent are part of something round. */
const SIDE_SHARE = 0.2;

/**
 * The direction of a ring's own sides: that of its longest wall, as a unit vector nearer to +X than to any other axis.
 * Where there are but short walls, that of the smallest rectangle around it. A cross lies askew in its smallest
 * rectangle, but not along its own walls.
 */
export function ownDirection(ring: Ring): Point {
  if (isUprightRectangle(ring)) return [1, 0];
  const { minX, minY, maxX, maxY } = ringBounds(ring);
  let longest = SIDE_SHARE * Math.max(maxX - minX, maxY - minY);
  let along: Point | undefined;
  ring.forEach(([x, y], i) => {
    const [nextX, nextY] = ring[(i + 1) % ring.length];
    const length = Math.hypot(nextX - x, nextY - y);
    if (length <= longest * (1 + 1e-6)) return;
    longest = length;
    along = nearestToX((nextX - x) / length, (nextY - y) / length);
  });
  if (along) return along;
  const { a, c } = rotation(orientedBox(ring).angleDeg);
  return [a, c];
}

/** A quarter turn brings a direction nearest to +X, so that width and height keep their everyday meaning. */
function nearestToX(x: number, y: number): Point {
  let [ux, uy] = [x, y];
  while (ux <= Math.SQRT1_2 - 1e-9 || uy < -Math.SQRT1_2 + 1e-9) [ux, uy] = [-uy, ux];
  return [ux, uy];
}

/** An oriented box by its longer side. */
export interface LongSide {
  readonly lengthMm: number;
  readonly widthMm: number;
  /** Unit vector along the longer side. */
  readonly along: Point;
}

/** The longer side of an oriented box, and its direction. */
export function longSide({ widthMm, heightMm, angleDeg }: OrientedBox): LongSide {
  const { a, c } = rotation(angleDeg);
  return widthMm >= heightMm
    ? { lengthMm: widthMm, widthMm: heightMm, along: [a, c] }
    : { lengthMm: heightMm, widthMm, along: [-c, a] };
}

/** The two directions of an opening's own sides, the first one nearer to X. */
export function ownAxes({ outer }: Region): readonly [Point, Point] {
  const [x, y] = ownDirection(outer);
  return [
    [x, y],
    [-y, x],
  ];
}

/** Axes that lie to others like this, as sine, say the same. */
const NEARLY_SAME = 0.02;

/** The two directions of the smallest box around an opening, where they are others than those of its own sides. */
export function boxAxes({ outer }: Region, [[x, y]]: readonly [Point, Point]): readonly [Point, Point] | undefined {
  const { a, c } = rotation(orientedBox(outer).angleDeg);
  if (Math.min(Math.abs(a * y - c * x), Math.abs(a * x + c * y)) < NEARLY_SAME) return undefined;
  return [
    [a, c],
    [-c, a],
  ];
}

/** Width and height of an opening along its own sides, mm. */
export const ownSize = (opening: Region): [number, number] => sizeAlong(opening, ownAxes(opening));

/** Extents of an opening along two directions, mm. */
export function sizeAlong({ outer }: Pick<Region, 'outer'>, axes: readonly [Point, Point]): [number, number] {
  const [width, height] = axes.map((axis) => {
    const [least, most] = reachAlong(outer, axis);
    return Math.max(0, most - least);
  });
  return [width, height];
}

import { copyOf } from '../geometry/copies.js';
import type { Affine, Region } from '../geometry/types.js';
import { flatWalls } from '../geometry/walls.js';
import { kept } from '../kept.js';

/** An opening in dots: x to the right, y down, one unit is one dot. Walls as x0, y0, x1, y1. */
export interface PixelShape {
  readonly walls: Float64Array;
  readonly minX: number;
  readonly minY: number;
  readonly maxX: number;
  readonly maxY: number;
  /** In dots squared, > 0. */
  readonly area: number;
  /** Centre of area. */
  readonly centreX: number;
  readonly centreY: number;
  /** The shape that this one is a copy of, moved. */
  readonly like?: PixelShape;
}

/** Maps openings to dots; copies of one shape are mapped once. */
export function toPixelShapes(openings: readonly Region[], map: Affine): PixelShape[] {
  const known = new Map<Region, PixelShape>();
  return openings.map((opening) => {
    const copy = copyOf(opening);
    if (!copy) return toPixelShape(opening, map);
    const { shape, dx, dy } = copy;
    const like = kept(known, shape, () => toPixelShape(shape, map));
    return movedShape(like, map.a * dx + map.b * dy, map.c * dx + map.d * dy);
  });
}

/** Walls of several shapes as those of one. */
export function wallsOfAll(shapes: readonly PixelShape[]): Float64Array {
  const all = new Float64Array(shapes.reduce((sum, { walls }) => sum + walls.length, 0));
  let at = 0;
  for (const { walls } of shapes) {
    all.set(walls, at);
    at += walls.length;
  }
  return all;
}

/** A shape laid elsewhere. */
export const movedShape = (like: PixelShape, dx: number, dy: number): PixelShape => new MovedShape(like, dx, dy);

/** A copy of a shape; its walls are laid out for those who ask for them. A class, for a board has thousands of these. */
class MovedShape implements PixelShape {
  #walls?: Float64Array;

  constructor(
    readonly like: PixelShape,
    private readonly dx: number,
    private readonly dy: number,
  ) {}

  get minX(): number {
    return this.like.minX + this.dx;
  }

  get minY(): number {
    return this.like.minY + this.dy;
  }

  get maxX(): number {
    return this.like.maxX + this.dx;
  }

  get maxY(): number {
    return this.like.maxY + this.dy;
  }

  get area(): number {
    return this.like.area;
  }

  get centreX(): number {
    return this.like.centreX + this.dx;
  }

  get centreY(): number {
    return this.like.centreY + this.dy;
  }

  get walls(): Float64Array {
    this.#walls ??= this.like.walls.map((value, i) => value + (i % 2 === 0 ? this.dx : this.dy));
    return this.#walls;
  }
}

/** Maps an opening to dots; directions of its rings do not matter as long as islands run against the outer ring. */
export const toPixelShape = ({ outer, islands }: Region, map: Affine): PixelShape =>
  shapeOfWalls(flatWalls([outer, ...islands], map));

/** Bounds, area and centre of area of closed walls. */
function shapeOfWalls(walls: Float64Array): PixelShape {
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  // Moments about the first point, so that shapes far from the origin lose no digits.
  const ox = walls[0];
  const oy = walls[1];
  let [area, mx, my] = [0, 0, 0];
  for (let at = 0; at < walls.length; at += 4) {
    const x = walls[at + 2];
    const y = walls[at + 3];
    const px = walls[at] - ox;
    const py = walls[at + 1] - oy;
    const qx = x - ox;
    const qy = y - oy;
    const cross = px * qy - qx * py;
    area += cross;
    mx += (px + qx) * cross;
    my += (py + qy) * cross;
    if (x < minX) minX = x;
    if (x > maxX) maxX = x;
    if (y < minY) minY = y;
    if (y > maxY) maxY = y;
  }
  const centre = area === 0 ? [(minX + maxX) / 2, (minY + maxY) / 2] : [ox + mx / (3 * area), oy + my / (3 * area)];
  return { walls, minX, minY, maxX, maxY, area: Math.abs(area) / 2, centreX: centre[0], centreY: centre[1] };
}

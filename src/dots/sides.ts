import { rotation } from '../geometry/affine.js';
import { orientedBox } from '../geometry/oriented-box.js';
import type { Point } from '../geometry/types.js';
import type { PixelShape } from './shape.js';

type PerAxis = { readonly x: number; readonly y: number };

/** A direction across which dots are measured, and how far the shape reaches along it. */
export interface Side {
  /** A point's place along it is x · this.x + y · this.y, in dots of that direction. */
  readonly x: number;
  readonly y: number;
  readonly least: number;
  readonly most: number;
  /** Size of a dot along it, mm. */
  readonly dotMm: number;
  /** How much an error along it counts. */
  readonly weight: number;
}

/** A shape that fills less of its least rectangle has no two sides of its own: an L, a cross, a triangle. */
const OWN_SIDES_FILL = 0.7;
/** What the box along X and Y counts for a slanted shape with sides of its own. */
const BOX_WEIGHT = 0.1;

/** A shape's own two sides first, and for a slanted one X and Y too. */
export function sidesOf(shape: PixelShape, dot: PerAxis): Side[] {
  const { walls } = shape;
  const ring: Point[] = [];
  for (let at = 0; at < walls.length; at += 4) ring.push([walls[at] * dot.x, walls[at + 1] * dot.y]);
  const { angleDeg, widthMm, heightMm } = orientedBox(ring);
  const { a, c } = rotation(angleDeg);
  const side = (u: Point, weight: number): Side => {
    const dotMm = Math.hypot(dot.x * u[0], dot.y * u[1]);
    const [x, y] = [(dot.x * u[0]) / dotMm, (dot.y * u[1]) / dotMm];
    let [least, most] = [Infinity, -Infinity];
    for (let at = 0; at < walls.length; at += 4) {
      const place = x * walls[at] + y * walls[at + 1];
      least = Math.min(least, place);
      most = Math.max(most, place);
    }
    return { x, y, least, most, dotMm, weight };
  };
  const own = [side([a, c], 1), side([-c, a], 1)];
  if (angleDeg === 0) return own;
  const hasOwn = shape.area * dot.x * dot.y > OWN_SIDES_FILL * widthMm * heightMm;
  const weight = hasOwn ? BOX_WEIGHT : 1;
  return [...own, side([1, 0], weight), side([0, 1], weight)];
}

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

/** A shape that fills less of the box along its own sides is an L, a cross, a triangle: X and Y count as much. */
const OWN_SIDES_FILL = 0.7;
/** What the box along X and Y counts for a slanted shape, with sides of its own and without. */
const BOX_WEIGHT = { own: 0.02, none: 0.2 };

/** Walls that are shorter than this share of the longest extent are part of something round. */
const SIDE_SHARE = 0.2;

/** A shape's own two sides first, along its longest wall; and for a slanted one X and Y too. */
export function sidesOf(shape: PixelShape, dot: PerAxis): Side[] {
  const along = longestWall(shape, dot) ?? [1, 0];
  // A correction for unequal scales and shear turns right angles into others: either size is square to its own walls.
  const across = longestWall(shape, dot, along) ?? [-along[1], along[0]];
  const own = [sideAlong(shape, [across[1], -across[0]], dot, 1), sideAlong(shape, [-along[1], along[0]], dot, 1)];
  if (Math.abs(along[0]) > UPRIGHT || Math.abs(along[1]) > UPRIGHT) return own;
  const [width, height] = own.map(({ least, most, dotMm }) => (most - least) * dotMm);
  const fills = outlineArea(shape) * dot.x * dot.y > OWN_SIDES_FILL * width * height;
  const weight = fills ? BOX_WEIGHT.own : BOX_WEIGHT.none;
  return [...own, sideAlong(shape, [1, 0], dot, weight), sideAlong(shape, [0, 1], dot, weight)];
}

/** Cosine from which on a direction is that of an axis. */
const UPRIGHT = 1 - 1e-9;

/** Walls that are square to others on the film stand to each other like this in commands, as a cosine. */
const NEARLY_SQUARE = 0.1;

/** The direction of the longest wall, or of the longest nearly square to another; undefined where there is nothing but short ones. */
function longestWall(
  { walls, ...box }: PixelShape,
  dot: PerAxis,
  squareTo?: readonly [number, number],
): readonly [number, number] | undefined {
  let best: readonly [number, number] | undefined;
  const extent = Math.max((box.maxX - box.minX) * dot.x, (box.maxY - box.minY) * dot.y);
  let longest = SIDE_SHARE * extent;
  for (let at = 0; at < walls.length; at += 4) {
    const [x, y] = [(walls[at + 2] - walls[at]) * dot.x, (walls[at + 3] - walls[at + 1]) * dot.y];
    const length = Math.hypot(x, y);
    if (length <= longest * (1 + 1e-6)) continue;
    if (squareTo && Math.abs(x * squareTo[0] + y * squareTo[1]) > NEARLY_SQUARE * length) continue;
    longest = length;
    best = [x / length, y / length];
  }
  return best;
}

function sideAlong({ walls }: PixelShape, [ux, uy]: readonly [number, number], dot: PerAxis, weight: number): Side {
  const dotMm = Math.hypot(dot.x * ux, dot.y * uy);
  const [x, y] = [(dot.x * ux) / dotMm, (dot.y * uy) / dotMm];
  let [least, most] = [Infinity, -Infinity];
  for (let at = 0; at < walls.length; at += 4) {
    const place = x * walls[at] + y * walls[at + 1];
    least = Math.min(least, place);
    most = Math.max(most, place);
  }
  return { x, y, least, most, dotMm, weight };
}

/** Area within the outer ring, which comes first, dots squared. */
function outlineArea({ walls }: PixelShape): number {
  let twice = 0;
  for (let at = 0; at < walls.length; at += 4) {
    twice += walls[at] * walls[at + 3] - walls[at + 2] * walls[at + 1];
    const ends = walls[at + 2] !== walls[at + 4] || walls[at + 3] !== walls[at + 5];
    if (ends) break;
  }
  return Math.abs(twice) / 2;
}

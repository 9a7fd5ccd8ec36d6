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

/** Walls that are shorter than this share of the longest extent are part of something round. */
const SIDE_SHARE = 0.2;

/** A shape's own two sides first, along its longest wall; then those of the smallest box around it where they differ. */
export function sidesOf(shape: PixelShape, dot: PerAxis): Side[] {
  const along = longestWall(shape, dot) ?? [1, 0];
  // A correction for unequal scales and shear turns right angles into others: either size is square to its own walls.
  const across = longestWall(shape, dot, along) ?? [-along[1], along[0]];
  const own = [sideAlong(shape, [across[1], -across[0]], dot, 1), sideAlong(shape, [-along[1], along[0]], dot, 1)];
  const box = boxAlong(shape, dot);
  const turn = Math.abs(box[0] * along[1] - box[1] * along[0]);
  if (Math.min(turn, Math.sqrt(1 - Math.min(1, turn * turn))) < NEARLY_SQUARE) return own;
  return [...own, sideAlong(shape, box, dot, BOX_WEIGHT), sideAlong(shape, [-box[1], box[0]], dot, BOX_WEIGHT)];
}

/** What the smallest box around a shape counts beside its own walls. */
const BOX_WEIGHT = 0.5;

/** Cosine from which on a direction is that of an axis. */
const UPRIGHT = 1 - 1e-6;
/** What the outermost tips of a leaning wall count: they say less of where it lies than the edge of an upright one. */
const LEANING_WEIGHT = +(process.env.LW ?? 0.4);

/** Direction of a side of the smallest box around a shape. */
function boxAlong({ walls }: PixelShape, dot: PerAxis): readonly [number, number] {
  const points = Array.from(
    { length: walls.length / 4 },
    (_, i): Point => [walls[4 * i] * dot.x, walls[4 * i + 1] * dot.y],
  );
  const { a, c } = rotation(orientedBox(points).angleDeg);
  return [a, c];
}

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

function sideAlong({ walls }: PixelShape, [ux, uy]: readonly [number, number], dot: PerAxis, share: number): Side {
  const upright = Math.max(Math.abs(ux), Math.abs(uy)) > UPRIGHT;
  const weight = share * (upright ? 1 : LEANING_WEIGHT);
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

import { rotation } from '../geometry/affine.js';
import { orientedBox } from '../geometry/oriented-box.js';
import type { PerAxis, Point } from '../geometry/types.js';
import type { GriddedShape } from './lay-on-grid.js';
import type { PixelShape } from './shape.js';

/** A direction across which dots are measured, and how far the shape reaches along it. */
export interface PadSide {
  /** A point's place along it is x · this.x + y · this.y, in dots of that direction. */
  readonly x: number;
  readonly y: number;
  readonly least: number;
  readonly most: number;
  /** Size of a dot along it, mm. */
  readonly dotMm: number;
  /** Whether it runs along X or Y: its walls have no tips. */
  readonly upright: boolean;
  /** How much an error along it counts. */
  readonly weight: number;
  /** How much more it counts, squared, from where on it is wide off. */
  readonly steepness: number;
}

/** Walls that are shorter than this share of the shape's extent are part of something round. */
const SIDE_SHARE = 0.2;

/**
 * A shape's own two sides first, along its longest wall; then the other directions in which somebody may measure it: along
 * and square to other long walls, and to the smallest box around it; what has no long walls also over that box's corners.
 */
export function sidesOf(shape: PixelShape, dot: PerAxis): PadSide[] {
  const wall = longestWall(shape, dot);
  const along = wall ?? [1, 0];
  // A correction for unequal scales and shear turns right angles into others: either size is square to its own walls.
  const square: Direction = [-along[1], along[0]];
  const isAcross = ([x, y]: Direction): boolean => Math.abs(x * along[0] + y * along[1]) < NEARLY_SAME;
  const { least, most, dotMm } = sideAlong(shape, square, dot, OWN);
  const across = longestWall(shape, dot, isAcross, (most - least) * dotMm) ?? square;
  const sides = [
    sideAlong(shape, [across[1], -across[0]], dot, OWN),
    sideAlong(shape, [-along[1], along[0]], dot, OWN),
  ];
  const known = [along];
  const add = (u: Direction | undefined): boolean => {
    if (!u || known.some((one) => sameAxes(one, u))) return false;
    known.push(u);
    sides.push(sideAlong(shape, u, dot, OTHER), sideAlong(shape, [-u[1], u[0]], dot, OTHER));
    return true;
  };
  const box = boxAlong(shape, dot);
  add(box);
  const another = (): Direction | undefined =>
    longestWall(shape, dot, (one) => !known.some((other) => sameAxes(other, one)));
  while (known.length < MOST_AXES && add(another()));
  // What is round may stick out anywhere: over the box's corners, and between.
  if (!wall) for (const turn of ROUND_TURNS) add([box[0] * Math.cos(turn) - box[1] * Math.sin(turn), box[0] * Math.sin(turn) + box[1] * Math.cos(turn)]); // biome-ignore format: one thought
  return sides;
}

type Direction = readonly [number, number];

/** Directions of what has no long walls, from the box's own. */
const ROUND_TURNS = [Math.PI / 4, Math.PI / 8, -Math.PI / 8];

/** Pairs of directions, without those of round shapes. */
const MOST_AXES = 4;
/** What an error counts along a shape's own two sides, and along others: as long as it is small, and when it is not. */
const OWN = { weight: 1, steepness: 60 };
const OTHER = { weight: 0.1, steepness: 10 };

/** Directions that stand to each other like this in commands may be parallel or square on the film, as sine. */
const NEARLY_SAME = 0.1;
const sameAxes = ([ax, ay]: Direction, [bx, by]: Direction): boolean =>
  Math.min(Math.abs(ax * by - ay * bx), Math.abs(ax * bx + ay * by)) < NEARLY_SAME;

/** Direction of a side of the smallest box around a shape. */
function boxAlong({ walls }: PixelShape, dot: PerAxis): Direction {
  const points = Array.from(
    { length: walls.length / 4 },
    (_, i): Point => [walls[4 * i] * dot.x, walls[4 * i + 1] * dot.y],
  );
  const { a, c } = rotation(orientedBox(points).angleDeg);
  return [a, c];
}

/** The direction of the longest wall of those that `which` takes; undefined where there are only short ones for that extent, mm. */
function longestWall(
  { walls, minX, minY, maxX, maxY }: PixelShape,
  dot: PerAxis,
  which: (direction: Direction) => boolean = () => true,
  extent = Math.max((maxX - minX) * dot.x, (maxY - minY) * dot.y),
): Direction | undefined {
  let best: Direction | undefined;
  let longest = SIDE_SHARE * extent;
  for (let at = 0; at < walls.length; at += 4) {
    const [x, y] = [(walls[at + 2] - walls[at]) * dot.x, (walls[at + 3] - walls[at + 1]) * dot.y];
    const length = Math.hypot(x, y);
    if (length <= longest * (1 + 1e-6) || !which([x / length, y / length])) continue;
    longest = length;
    best = [x / length, y / length];
  }
  return best;
}

function sideAlong({ walls }: PixelShape, [ux, uy]: Direction, dot: PerAxis, counts: typeof OWN): PadSide {
  const upright = Math.max(Math.abs(ux), Math.abs(uy)) > 1 - 1e-12;
  const dotMm = Math.hypot(dot.x * ux, dot.y * uy);
  const [x, y] = [(dot.x * ux) / dotMm, (dot.y * uy) / dotMm];
  let [least, most] = [Infinity, -Infinity];
  for (let at = 0; at < walls.length; at += 4) {
    const place = x * walls[at] + y * walls[at + 1];
    least = Math.min(least, place);
    most = Math.max(most, place);
  }
  return { x, y, least, most, dotMm, upright, ...counts };
}

/** Ends of a side: 0 where its places are least, 1 where they are most. */
export type End = 0 | 1;

/** How far dots reach along sides. */
export class Reach {
  /** By side and end, how far each orbit of outer dots reaches outwards, dots. */
  readonly tips: readonly (readonly [Float64Array, Float64Array])[];
  /** A dot of each orbit: all of them are burnt, or none. */
  private readonly first: Int32Array;
  /** The same of the dots that are covered whole, which are always burnt. */
  private readonly inner: readonly (readonly [number, number])[];

  constructor(
    laid: GriddedShape,
    private readonly sides: readonly PadSide[],
  ) {
    const { outer, columns, middle } = laid;
    this.tips = sides.map((side) =>
      ([0, 1] as const).map((end) => {
        const tips = new Float64Array(outer.length).fill(-Infinity);
        for (let k = 0; k < outer.length; k += 1) {
          for (const dot of outer[k].dots) {
            const row = Math.floor(dot / columns);
            tips[k] = Math.max(tips[k], tipAt(side, end, dot - row * columns - middle.x, row - middle.y));
          }
        }
        return tips;
      }),
    ) as [Float64Array, Float64Array][];
    this.first = Int32Array.from(outer, ({ dots }) => dots[0]);
    this.inner = innerReach(laid, sides);
  }

  /** Whether an orbit reaches no farther than to a limit at each end of each side. */
  isWithin(k: number, limits: readonly (readonly [number, number])[]): boolean {
    for (let side = 0; side < limits.length; side += 1) {
      const [low, high] = this.tips[side];
      if (low[k] > limits[side][0] || high[k] > limits[side][1]) return false;
    }
    return true;
  }

  /** How far dots reach outwards at either end of a side, in dots from the middle. */
  most(mask: Uint8Array, side: number): [number, number] {
    const { first } = this;
    const [low, high] = this.tips[side];
    let [mostLow, mostHigh] = this.inner[side];
    for (let k = 0; k < first.length; k += 1) {
      if (mask[first[k]] === 0) continue;
      if (low[k] > mostLow) mostLow = low[k];
      if (high[k] > mostHigh) mostHigh = high[k];
    }
    return [mostLow, mostHigh];
  }

  /** The same beyond where they should. */
  overhang(mask: Uint8Array, side: number): [number, number] {
    const { least, most } = this.sides[side];
    const [low, high] = this.most(mask, side);
    return [low + least, high - most];
  }

  /** What dots are too long along each side, in dots. */
  errors(mask: Uint8Array): number[] {
    return this.sides.map((_, side) => {
      const [low, high] = this.overhang(mask, side);
      return low + high;
    });
  }
}

/** The outermost place of a dot with its upper left corner at (x, y) from the middle, outwards. */
function tipAt(side: PadSide, end: End, x: number, y: number): number {
  const place = side.x * x + side.y * y;
  return end === 1
    ? place + Math.max(0, side.x) + Math.max(0, side.y)
    : -(place + Math.min(0, side.x) + Math.min(0, side.y));
}

function innerReach(
  { columns, rows, middle, touched, outer }: GriddedShape,
  sides: readonly PadSide[],
): [number, number][] {
  const mask = touched.slice();
  for (const { dots } of outer) for (const dot of dots) mask[dot] = 0;
  const found = sides.map((): [number, number] => [-Infinity, -Infinity]);
  for (let row = 0; row < rows; row += 1) {
    const line = mask.subarray(row * columns, (row + 1) * columns);
    const first = line.indexOf(1);
    if (first < 0) continue;
    for (const column of [first, line.lastIndexOf(1)]) {
      sides.forEach((side, i) => {
        for (const end of [0, 1] as const)
          found[i][end] = Math.max(found[i][end], tipAt(side, end, column - middle.x, row - middle.y));
      });
    }
  }
  return found;
}

import { rotation } from './affine.js';
import { reachAlong } from './bounds.js';
import { orientedBox, ownDirection } from './oriented-box.js';
import type { Point, Region } from './types.js';

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

/** Keeps the extent of points along a direction. */
export class ExtentAlong {
  private least = Infinity;
  private most = -Infinity;

  constructor(private readonly along: Point) {}

  take(x: number, y: number): void {
    const at = this.along[0] * x + this.along[1] * y;
    if (at < this.least) this.least = at;
    if (at > this.most) this.most = at;
  }

  get length(): number {
    return Math.max(0, this.most - this.least);
  }
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

import { ownDirection } from '../geometry/oriented-box.js';
import type { Point, Region } from '../geometry/types.js';

/** The two directions of an opening's own sides, the first one nearer to X. */
export function ownAxes({ outer }: Region): readonly [Point, Point] {
  const [x, y] = ownDirection(outer);
  return [
    [x, y],
    [-y, x],
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
export function ownSize(opening: Region): [number, number] {
  const [width, height] = ownAxes(opening).map((axis) => {
    const extent = new ExtentAlong(axis);
    for (const [x, y] of opening.outer) extent.take(x, y);
    return extent.length;
  });
  return [width, height];
}

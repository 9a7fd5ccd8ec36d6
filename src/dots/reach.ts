import type { GriddedShape } from './lay-on-grid.js';
import type { PadSide } from './sides.js';

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

import { coverageGrid } from '../geometry/coverage.js';
import { kept, listIn } from '../kept.js';
import { movedShape, type PixelShape } from './shape.js';

/** Openings of one shape, wherever they lie and whichever way they are mirrored. */
export interface EqualShapes {
  /** The shape with the middle of its box at the origin, y down. */
  readonly shape: PixelShape;
  /** Whether it looks the same mirrored left to right, top to bottom, and turned by 180 degrees. */
  readonly mirrorX: boolean;
  readonly mirrorY: boolean;
  readonly halfTurn: boolean;
  readonly members: ClassMember[];
}

export interface ClassMember {
  /** Position among the openings. */
  readonly index: number;
  /** Whether this one is the class's shape mirrored left to right, top to bottom. */
  readonly flipX: boolean;
  readonly flipY: boolean;
}

/**
 * Shapes are one when their coverage differs by no more than this in any dot, and on the whole, over the dots that walls
 * cross, as if these lay off by no more than that, rms, dots: traced walls wander so far, and most at corners.
 */
const SAME_COVERAGE = { most: 0.2, rms: 0.03 };
/** Equal shapes differ in area by less than this times their size. */
const SAME_AREA = 0.02;

/** Above this size, half an inch square at 1000 dpi, only copies are equal, and none counts as symmetric. */
const MAX_GRID_DOTS = 250_000;

interface Known {
  readonly found: EqualShapes;
  readonly flipX: boolean;
  readonly flipY: boolean;
}

interface Gridded {
  readonly grid: Float64Array;
  readonly width: number;
  readonly height: number;
  readonly found: EqualShapes;
}

/** Sorts openings by shape, so that equal ones get equal dots and each shape is worked out once. */
export function classifyShapes(shapes: readonly PixelShape[]): EqualShapes[] {
  const classes: EqualShapes[] = [];
  const bySize = new Map<string, Gridded[]>();
  const byShape = new Map<PixelShape, Known>();
  shapes.forEach((shape, index) => {
    const like = shape.like ?? shape;
    const { found, flipX, flipY } = kept(byShape, like, () => {
      const [x, y] = [(like.minX + like.maxX) / 2, (like.minY + like.maxY) / 2];
      return classOf(movedShape(like, -x, -y), classes, bySize);
    });
    found.members.push({ index, flipX, flipY });
  });
  return classes;
}

/** The class that a shape belongs to: that of a shape with the same coverage, or a new one. */
function classOf(local: PixelShape, classes: EqualShapes[], bySize: Map<string, Gridded[]>): Known {
  const halfWidth = Math.ceil(local.maxX + 1e-9);
  const halfHeight = Math.ceil(local.maxY + 1e-9);
  const [width, height] = [2 * halfWidth, 2 * halfHeight];
  if (width * height > MAX_GRID_DOTS) {
    const found: EqualShapes = { shape: local, mirrorX: false, mirrorY: false, halfTurn: false, members: [] };
    classes.push(found);
    return { found, flipX: false, flipY: false };
  }
  const grid = coverageGrid(local.walls, halfWidth, halfHeight, width, height);
  const same = (other: Float64Array, flipX: boolean, flipY: boolean): boolean =>
    sameGrid(grid, other, width, height, flipX, flipY);
  const bucket = listIn(bySize, `${width} ${height}`);
  for (const one of bucket) {
    if (Math.abs(one.found.shape.area - local.area) > SAME_AREA * Math.sqrt(local.area) + 1e-6) continue;
    for (const [flipX, flipY] of FLIPS) {
      if (same(one.grid, flipX, flipY)) return { found: one.found, flipX, flipY };
    }
  }
  const found: EqualShapes = {
    shape: local,
    mirrorX: same(grid, true, false),
    mirrorY: same(grid, false, true),
    halfTurn: same(grid, true, true),
    members: [],
  };
  classes.push(found);
  bucket.push({ grid, width, height, found });
  return { found, flipX: false, flipY: false };
}

const FLIPS: readonly (readonly [boolean, boolean])[] = [
  [false, false],
  [true, false],
  [false, true],
  [true, true],
];

function sameGrid(
  p: Float64Array,
  q: Float64Array,
  width: number,
  height: number,
  flipX: boolean,
  flipY: boolean,
): boolean {
  const stride = width + 1;
  let [squares, crossed] = [0, 0];
  for (let row = 0; row < height; row += 1) {
    const a = row * stride;
    const b = (flipY ? height - 1 - row : row) * stride;
    for (let column = 0; column < width; column += 1) {
      const one = p[a + column];
      const other = q[b + (flipX ? width - 1 - column : column)];
      const off = Math.abs(one - other);
      if (off > SAME_COVERAGE.most) return false;
      squares += off * off;
      if (one > 0 && one < 1) crossed += 1;
    }
  }
  return squares <= SAME_COVERAGE.rms ** 2 * crossed;
}

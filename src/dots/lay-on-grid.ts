import { coverageGrid } from './coverage.js';
import type { PixelShape } from './shape.js';
import type { ShapeClass } from './shape-classes.js';

/** Coverage within this of 0 or 1 is none or all. */
const EDGE = 1e-6;

/** Dots whose coverage differs by less than this are taken as equal, so that they are filled from the middle. */
const TIE = 0.02;

/** A shape laid on the grid of dots. Scratch: good until the next one is laid. */
export interface Laid {
  readonly columns: number;
  readonly rows: number;
  /** Where the middle of the shape's box lies in the grid. */
  readonly middleX: number;
  readonly middleY: number;
  /** Upper left corner of the grid from the middle of the box. */
  readonly left: number;
  readonly top: number;
  /** Number of dots that are covered wholly. */
  readonly whole: number;
  /** Grid positions (row * columns + column) of the others, in the order in which they are burnt. */
  readonly partial: readonly number[];
  /** Numbers of dots worth trying, ascending. */
  readonly counts: readonly number[];
}

/** Coverage of the shape in work; kept between shapes, since a board has many small ones. */
let scratch = new Float64Array(1 << 14);

/** Whether the shape that was laid last covers a dot wholly. */
export const isWhole = (columns: number, row: number, column: number): boolean =>
  scratch[(row + 1) * (columns + 3) + column + 1] >= 1 - EDGE;

/**
 * Sorts dots by coverage, and those of equal coverage around the wanted count from the middle outwards: a wall that falls
 * between two columns of dots gets one step in, not a comb. Counts to try are those just below and above the wanted area
 * at which the dots are symmetric, and those at which no equals are torn apart.
 */
export function layOnGrid(found: ShapeClass, drawn: PixelShape, phaseX: number, phaseY: number): Laid {
  const c0 = Math.floor(drawn.minX + phaseX + EDGE);
  const r0 = Math.floor(drawn.minY + phaseY + EDGE);
  const columns = Math.max(1, Math.ceil(drawn.maxX + phaseX - EDGE) - c0);
  const rows = Math.max(1, Math.ceil(drawn.maxY + phaseY - EDGE) - r0);
  const [middleX, middleY] = [phaseX - c0, phaseY - r0];
  // One dot of room on each side takes what rounding noise lets stick out.
  const size = (columns + 3) * (rows + 2) + 1;
  if (scratch.length < size) scratch = new Float64Array(2 * size);
  coverageGrid(drawn.walls, middleX + 1, middleY + 1, columns + 2, rows + 2, scratch);
  const dots: number[] = [];
  let whole = 0;
  for (let row = 0; row < rows; row += 1) {
    const base = (row + 1) * (columns + 3) + 1;
    for (let column = 0; column < columns; column += 1) {
      const covered = scratch[base + column];
      if (covered >= 1 - EDGE) whole += 1;
      else if (covered > EDGE) dots.push(row * columns + column);
    }
  }
  const keys = new Float64Array(dots.length);
  for (let i = 0; i < dots.length; i += 1) {
    const row = Math.floor(dots[i] / columns);
    // The coverage in steps of 1e-9, largest first, and the position in one number: a sort of numbers is the quickest.
    const share = scratch[(row + 1) * (columns + 3) + 1 + dots[i] - row * columns];
    keys[i] = Math.round((1 - share) * 1e9) * MAX_PARTIAL + i;
  }
  keys.sort();
  const shareAt = (i: number): number => 1 - Math.floor(keys[i] / MAX_PARTIAL) / 1e9;
  const partial = Array.from(keys, (key) => dots[key % MAX_PARTIAL]);
  const area = found.shape.area;
  const counts = new Set<number>([whole]);
  let start = 0;
  while (start < partial.length && whole + start <= area) {
    const most = shareAt(start);
    let end = start + 1;
    while (end < partial.length && most - shareAt(end) < TIE) end += 1;
    if (whole + end > area || end === partial.length) {
      const group = partial.slice(start, end);
      const stops = fromTheMiddle(found, group, columns, middleX, middleY);
      for (let i = 0; i < group.length; i += 1) partial[start + i] = group[i];
      const room = area - whole - start;
      const above = stops.findIndex((stop) => stop > room);
      const below = above < 0 ? stops.length - 1 : above - 1;
      for (const k of [below, above]) if (k >= 0) counts.add(whole + start + stops[k]);
      counts.add(whole + start);
      counts.add(whole + end);
    }
    start = end;
  }
  const sorted = [...counts].filter((count) => count > 0).sort((p, q) => p - q);
  return { columns, rows, middleX, middleY, left: -middleX, top: -middleY, whole, partial, counts: sorted };
}

/** More dots than any outline has on the largest grid that is laid. */
const MAX_PARTIAL = 1 << 20;

/** Sorts equals by their distance from the middle, in place; returns the numbers of them that are symmetric. */
function fromTheMiddle(
  found: ShapeClass,
  group: number[],
  columns: number,
  middleX: number,
  middleY: number,
): number[] {
  const keyed = group.map((dot) => {
    const row = Math.floor(dot / columns);
    // Twice the distance from the middle is a whole number for every symmetric phase.
    const dx = 2 * (dot - row * columns + 0.5 - middleX);
    const dy = 2 * (row + 0.5 - middleY);
    return { dot, orbit: orbitKey(found, dx, dy), far: Math.round((dx * dx + dy * dy) * 64) };
  });
  keyed.sort((p, q) => p.far - q.far || p.orbit - q.orbit || p.dot - q.dot);
  const stops: number[] = [];
  keyed.forEach(({ dot, orbit }, i) => {
    group[i] = dot;
    if (i + 1 === keyed.length || keyed[i + 1].orbit !== orbit) stops.push(i + 1);
  });
  return stops;
}

/** The same for dots that the shape's symmetry makes each other's image. */
function orbitKey({ mirrorX, mirrorY, halfTurn }: ShapeClass, dx: number, dy: number): number {
  let [x, y] = [dx, dy];
  if (mirrorX) x = Math.abs(x);
  if (mirrorY) y = Math.abs(y);
  if (halfTurn && !mirrorX && (y < -1e-6 || (Math.abs(y) <= 1e-6 && x < 0))) [x, y] = [-x, -y];
  return Math.round(x * 4) * 1e6 + Math.round(y * 4);
}

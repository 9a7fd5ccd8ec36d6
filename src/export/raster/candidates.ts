import { coverageGrid } from './coverage.js';
import { joinParts, stampFromMask } from './masks.js';
import { type PixelShape, shapeOfWalls } from './shape.js';
import { type ShapeClass, sizeOf } from './shape-classes.js';
import { type Stamp, stampByCentres } from './stamp.js';

/** One way of standing for a shape by dots. Everything in dots, errors as dots less polygon. */
export interface Candidate {
  /** Upper left corner of the stamp from the middle of the shape's box, for a shape that is not mirrored. */
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly count: number;
  readonly areaErrorPercent: number;
  readonly widthError: number;
  readonly heightError: number;
  /** Share of a bump: 0 for an outermost row and column that are well filled. */
  readonly ragged: number;
  /** Makes the dots; not done before the candidate is chosen. */
  readonly stamp: () => Stamp;
}

/** Coverage within this of 0 or 1 is none or all. */
const EDGE = 1e-6;

/** Dots whose coverage differs by less than this are taken as equal, so that they are filled from the middle. */
const TIE = 0.02;

/** Above this many dots the outline is a small part: dots by their centres, phases still chosen. */
const MAX_COVERAGE_DOTS = 60_000;

const SYMMETRIC_PHASES = [0, 0.5];
const FREE_PHASES = [0, 0.25, 0.5, 0.75];

/** All sensible ways of standing for a class's shape; `stretch` makes it narrower one way and longer the other. */
export function candidatesOf(found: ShapeClass, stretch: { x: number; y: number } = { x: 1, y: 1 }): Candidate[] {
  const wanted = found.shape;
  const own = sizeOf(wanted);
  const scaleX = (stretch.x * found.size.width) / own.width;
  const scaleY = (stretch.y * found.size.height) / own.height;
  const drawn = scaleX === 1 && scaleY === 1 ? wanted : stretched(wanted, scaleX, scaleY);
  const phasesX = found.mirrorX || found.halfTurn ? SYMMETRIC_PHASES : FREE_PHASES;
  const phasesY = found.mirrorY || found.halfTurn ? SYMMETRIC_PHASES : FREE_PHASES;
  const large = (wanted.maxX - wanted.minX) * (wanted.maxY - wanted.minY) > MAX_COVERAGE_DOTS;
  const all: Candidate[] = [];
  for (const phaseX of phasesX) {
    for (const phaseY of phasesY) {
      if (large) all.push(byCentres(found, drawn, phaseX, phaseY));
      else byCoverage(found, drawn, phaseX, phaseY, all);
    }
  }
  return all;
}

function stretched(shape: PixelShape, sx: number, sy: number): PixelShape {
  return shapeOfWalls(shape.walls.map((value, i) => value * (i % 2 === 0 ? sx : sy)));
}

function byCentres(found: ShapeClass, drawn: PixelShape, phaseX: number, phaseY: number): Candidate {
  const walls = drawn.walls.slice();
  for (let i = 0; i < walls.length; i += 2) {
    walls[i] += phaseX;
    walls[i + 1] += phaseY;
  }
  const { stamp, column, row } = stampByCentres({
    ...drawn,
    walls,
    minY: drawn.minY + phaseY,
    maxY: drawn.maxY + phaseY,
  });
  return {
    left: column - phaseX,
    top: row - phaseY,
    ...errorsOf(found, stamp.width, stamp.height, stamp.count),
    ragged: 0,
    stamp: () => stamp,
  };
}

function errorsOf({ shape, size, burnt }: ShapeClass, width: number, height: number, count: number) {
  return {
    width,
    height,
    count,
    areaErrorPercent: (100 * (count - shape.area)) / burnt.area,
    widthError: width - size.width,
    heightError: height - size.height,
  };
}

/** Dots in the order in which they are burnt: those covered most first, equal ones from the middle outwards. */
interface Order {
  readonly columns: number;
  readonly rows: number;
  /** Grid positions (row * columns + column). */
  readonly dots: Int32Array;
  /** The first so many are covered wholly. */
  readonly whole: number;
  /** Counts at which a set of dots is symmetric, ascending; `clean` ones end a whole row, column or run of equals. */
  readonly stops: readonly { readonly count: number; readonly clean: boolean }[];
}

function byCoverage(found: ShapeClass, drawn: PixelShape, phaseX: number, phaseY: number, all: Candidate[]): void {
  const c0 = Math.floor(drawn.minX + phaseX + EDGE);
  const r0 = Math.floor(drawn.minY + phaseY + EDGE);
  const columns = Math.max(1, Math.ceil(drawn.maxX + phaseX - EDGE) - c0);
  const rows = Math.max(1, Math.ceil(drawn.maxY + phaseY - EDGE) - r0);
  // One dot of room on each side takes what rounding noise lets stick out.
  const grid = coverageGrid(drawn.walls, phaseX - c0 + 1, phaseY - r0 + 1, columns + 2, rows + 2);
  const order = orderOf(found, grid, columns, rows, phaseX - c0, phaseY - r0);
  const counts = countsToTry(order, found.shape.area);
  const tally = new Tally(order);
  for (const count of counts) {
    const box = tally.at(count);
    if (!box) continue;
    const mask = (): Stamp => stampOf(order, count);
    all.push({
      left: c0 + box.left - phaseX,
      top: r0 + box.top - phaseY,
      ...errorsOf(found, box.right - box.left, box.bottom - box.top, count),
      ragged: box.ragged,
      stamp: mask,
    });
  }
}

function orderOf(
  found: ShapeClass,
  grid: Float64Array,
  columns: number,
  rows: number,
  middleX: number,
  middleY: number,
): Order {
  const stride = columns + 3;
  const share = (dot: number): number => {
    const row = Math.floor(dot / columns);
    return grid[(row + 1) * stride + (dot - row * columns) + 1];
  };
  const whole: number[] = [];
  const partial: number[] = [];
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1) {
      const covered = grid[(row + 1) * stride + column + 1];
      if (covered >= 1 - EDGE) whole.push(row * columns + column);
      else if (covered > EDGE) partial.push(row * columns + column);
    }
  }
  partial.sort((p, q) => share(q) - share(p));
  const stops: { count: number; clean: boolean }[] = [{ count: whole.length, clean: true }];
  // Twice the distance from the middle is a whole number for every symmetric phase.
  const offset = (dot: number): [number, number] => {
    const row = Math.floor(dot / columns);
    return [2 * (dot - row * columns + 0.5 - middleX), 2 * (row + 0.5 - middleY)];
  };
  let start = 0;
  while (start < partial.length) {
    const most = share(partial[start]);
    let end = start + 1;
    while (end < partial.length && most - share(partial[end]) < TIE) end += 1;
    const group = partial.slice(start, end).map((dot) => {
      const [dx, dy] = offset(dot);
      return { dot, orbit: orbitKey(found, dx, dy), far: dx * dx + dy * dy };
    });
    group.sort((p, q) => p.far - q.far || p.orbit - q.orbit || p.dot - q.dot);
    for (let i = 0; i < group.length; i += 1) {
      partial[start + i] = group[i].dot;
      const last = i + 1 === group.length;
      if (last || group[i + 1].orbit !== group[i].orbit || Math.abs(group[i + 1].far - group[i].far) > 1e-6) {
        stops.push({ count: whole.length + start + i + 1, clean: last });
      }
    }
    start = end;
  }
  return { columns, rows, dots: Int32Array.from([...whole, ...partial]), whole: whole.length, stops };
}

/** The same for dots that the shape's symmetry makes each other's image. */
function orbitKey({ mirrorX, mirrorY, halfTurn }: ShapeClass, dx: number, dy: number): number {
  let [x, y] = [dx, dy];
  if (mirrorX) x = Math.abs(x);
  if (mirrorY) y = Math.abs(y);
  if (halfTurn && !mirrorX && (y < -1e-6 || (Math.abs(y) <= 1e-6 && x < 0))) [x, y] = [-x, -y];
  return Math.round(x * 4) * 1e6 + Math.round(y * 4);
}

/** The stops on both sides of the wanted area, and the clean ones on both sides. */
function countsToTry({ stops }: Order, area: number): number[] {
  const counts = new Set<number>();
  let [below, above, cleanBelow, cleanAbove] = [-1, -1, -1, -1];
  for (const { count, clean } of stops) {
    if (count <= area) {
      below = count;
      if (clean) cleanBelow = count;
    } else {
      if (above < 0) above = count;
      if (clean && cleanAbove < 0) cleanAbove = count;
    }
  }
  for (const count of [below, above, cleanBelow, cleanAbove]) if (count > 0) counts.add(count);
  return [...counts].sort((p, q) => p - q);
}

interface Extent {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
  readonly ragged: number;
}

/** Keeps count of dots in each row and column while dots are added. */
class Tally {
  private readonly inColumn: Int32Array;
  private readonly inRow: Int32Array;
  private readonly mayColumn: Int32Array;
  private readonly mayRow: Int32Array;
  private done = 0;

  constructor(private readonly order: Order) {
    this.inColumn = new Int32Array(order.columns);
    this.inRow = new Int32Array(order.rows);
    this.mayColumn = new Int32Array(order.columns);
    this.mayRow = new Int32Array(order.rows);
    for (const dot of order.dots) {
      const row = Math.floor(dot / order.columns);
      this.mayRow[row] += 1;
      this.mayColumn[dot - row * order.columns] += 1;
    }
  }

  /** Counts must come in ascending order. */
  at(count: number): Extent | undefined {
    const { dots, columns } = this.order;
    for (; this.done < count; this.done += 1) {
      const dot = dots[this.done];
      const row = Math.floor(dot / columns);
      this.inRow[row] += 1;
      this.inColumn[dot - row * columns] += 1;
    }
    const [left, right] = ends(this.inColumn);
    const [top, bottom] = ends(this.inRow);
    if (right < 0 || bottom < 0) return undefined;
    const bump = (taken: Int32Array, may: Int32Array, i: number): number => Math.max(0, 0.5 - taken[i] / may[i]);
    const ragged = Math.max(
      bump(this.inColumn, this.mayColumn, left),
      bump(this.inColumn, this.mayColumn, right),
      bump(this.inRow, this.mayRow, top),
      bump(this.inRow, this.mayRow, bottom),
    );
    return { left, top, right: right + 1, bottom: bottom + 1, ragged: 2 * ragged };
  }
}

function ends(counts: Int32Array): [number, number] {
  let first = 0;
  while (first < counts.length && counts[first] === 0) first += 1;
  let last = counts.length - 1;
  while (last >= first && counts[last] === 0) last -= 1;
  return last < first ? [-1, -1] : [first, last];
}

function stampOf({ dots, columns, rows }: Order, count: number): Stamp {
  const mask = new Uint8Array(columns * rows);
  for (let i = 0; i < count; i += 1) mask[dots[i]] = 1;
  joinParts(mask, columns, Array.from(dots.subarray(count)));
  return stampFromMask(mask, columns, rows).stamp;
}

import { coverageGrid } from './coverage.js';
import { hangsTogether, joinParts, stampFromMask } from './masks.js';
import { type PixelShape, shapeOfWalls } from './shape.js';
import { type ShapeClass, sizeOf } from './shape-classes.js';
import { EMPTY_STAMP, type Stamp, stampByCentres } from './stamp.js';

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

/** Where the middle of the shape lies within a dot: at its corner or in its middle, so that symmetry is kept. */
const HALF_PHASES = [0, 0.5];
/** For shapes that have no symmetry to keep. */
const QUARTER_PHASES = [0, 0.25, 0.5, 0.75];

/** All sensible ways of standing for a class's shape; `stretch` makes it narrower one way and longer the other. */
export function candidatesOf(found: ShapeClass, stretch: { x: number; y: number } = { x: 1, y: 1 }): Candidate[] {
  const wanted = found.shape;
  if (!(wanted.area > NOTHING)) return [NO_DOTS];
  const own = sizeOf(wanted);
  const scaleX = (stretch.x * found.size.width) / own.width;
  const scaleY = (stretch.y * found.size.height) / own.height;
  const drawn = scaleX === 1 && scaleY === 1 ? wanted : stretched(wanted, scaleX, scaleY);
  const freeX = !found.mirrorX && !found.halfTurn;
  const freeY = !found.mirrorY && !found.halfTurn;
  const large = (wanted.maxX - wanted.minX) * (wanted.maxY - wanted.minY) > MAX_COVERAGE_DOTS;
  const all: Candidate[] = [];
  const add = (phaseX: number, phaseY: number): void => {
    if (large) all.push(byCentres(found, drawn, phaseX, phaseY));
    else byCoverage(found, drawn, phaseX, phaseY, all);
  };
  for (const phaseX of HALF_PHASES) for (const phaseY of HALF_PHASES) add(phaseX, phaseY);
  if ((freeX || freeY) && !all.some(isGood)) {
    const phases = (free: boolean): readonly number[] => (free ? QUARTER_PHASES : HALF_PHASES);
    for (const phaseX of phases(freeX)) {
      for (const phaseY of phases(freeY)) if (phaseX % 0.5 !== 0 || phaseY % 0.5 !== 0) add(phaseX, phaseY);
    }
  }
  return all;
}

/** An opening of less area than this is none, dots squared. */
const NOTHING = 1e-9;

const NO_DOTS: Candidate = {
  left: 0,
  top: 0,
  width: 0,
  height: 0,
  count: 0,
  areaErrorPercent: 0,
  widthError: 0,
  heightError: 0,
  ragged: 0,
  stamp: () => EMPTY_STAMP,
};

/** Good enough to leave the finer phases of a shape without symmetry untried. */
function isGood({ areaErrorPercent, widthError, heightError, ragged }: Candidate): boolean {
  return Math.abs(areaErrorPercent) < 0.3 && Math.abs(widthError) < 0.3 && Math.abs(heightError) < 0.3 && ragged === 0;
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

/** A shape laid on the grid of dots. Scratch: good until the next one is laid. */
interface Laid {
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

function byCoverage(found: ShapeClass, drawn: PixelShape, phaseX: number, phaseY: number, all: Candidate[]): void {
  const laid = layOnGrid(found, drawn, phaseX, phaseY);
  const tally = new Tally(laid);
  for (const count of laid.counts) {
    const box = tally.at(count);
    if (!box) continue;
    all.push({
      left: laid.left + box.left,
      top: laid.top + box.top,
      ...errorsOf(found, box.right - box.left, box.bottom - box.top, count),
      ragged: box.ragged,
      // Laid anew rather than kept: of all candidates only one in a dozen is ever burnt.
      stamp: () => stampOf(layOnGrid(found, drawn, phaseX, phaseY), count),
    });
  }
}

const isWhole = (columns: number, row: number, column: number): boolean =>
  scratch[(row + 1) * (columns + 3) + column + 1] >= 1 - EDGE;

/**
 * Sorts dots by coverage, and those of equal coverage around the wanted count from the middle outwards: a wall that falls
 * between two columns of dots gets one step in, not a comb. Counts to try are those just below and above the wanted area
 * at which the dots are symmetric, and those at which no equals are torn apart.
 */
function layOnGrid(found: ShapeClass, drawn: PixelShape, phaseX: number, phaseY: number): Laid {
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

  constructor(private readonly laid: Laid) {
    const { columns, rows, partial } = laid;
    this.inColumn = new Int32Array(columns);
    this.inRow = new Int32Array(rows);
    if (laid.whole > 0) {
      for (let row = 0; row < rows; row += 1) {
        for (let column = 0; column < columns; column += 1) {
          if (!isWhole(columns, row, column)) continue;
          this.inRow[row] += 1;
          this.inColumn[column] += 1;
        }
      }
    }
    this.mayColumn = this.inColumn.slice();
    this.mayRow = this.inRow.slice();
    for (const dot of partial) {
      const row = Math.floor(dot / columns);
      this.mayRow[row] += 1;
      this.mayColumn[dot - row * columns] += 1;
    }
  }

  /** Counts must come in ascending order. */
  at(count: number): Extent | undefined {
    const { partial, columns, whole } = this.laid;
    for (; this.done < count - whole; this.done += 1) {
      const dot = partial[this.done];
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

function stampOf({ columns, rows, partial, whole }: Laid, count: number): Stamp {
  const mask = new Uint8Array(columns * rows);
  for (let row = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1)
      if (isWhole(columns, row, column)) mask[row * columns + column] = 1;
  }
  for (let i = 0; i < count - whole; i += 1) mask[partial[i]] = 1;
  const { stamp } = stampFromMask(mask, columns, rows);
  if (hangsTogether(stamp)) return stamp;
  joinParts(mask, columns, partial.slice(Math.max(0, count - whole)));
  return stampFromMask(mask, columns, rows).stamp;
}

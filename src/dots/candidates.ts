import { isWhole, type Laid, layOnGrid } from './lay-on-grid.js';
import { hangsTogether, joinParts, stampFromMask } from './masks.js';
import { type PixelShape, shapeOfWalls } from './shape.js';
import { type ShapeClass, sizeOf } from './shape-classes.js';
import { EMPTY_STAMP, type Stamp, stampByCentres } from './stamp.js';
import { Tally } from './tally.js';

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

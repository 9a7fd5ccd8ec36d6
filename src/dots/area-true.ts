import { InputError } from '../errors.js';
import type { PerAxis } from '../geometry/types.js';
import { budgetInForce } from '../geometry/work-budget.js';
import { tellHowFar } from '../work-watch.js';
import { type Fitted, fitDots, workFor } from './fit-dots.js';
import { keepApart } from './keep-apart.js';
import { FRAME_DOTS } from './rounding.js';
import type { PixelShape } from './shape.js';
import { type ClassMember, classifyShapes, type EqualShapes } from './shape-classes.js';
import { type PlacedStamp, type Stamp, stampFromRows } from './stamp.js';

/** Whether an opening gives way where two would grow together, and whether it is only for the eye, such as a letter. */
export type Standing = 'first' | 'yields' | 'for the eye';

export interface AreaTrue {
  readonly placed: readonly PlacedStamp[];
  /** For each opening how near its dots come. */
  readonly fitted: readonly Fitted[];
}

/**
 * As long as small shapes take no more than this together, in the units of `WorkBudget`, each is looked at finely: some
 * three hundred ragged pads, no two of them alike. More are looked at in haste, and a tangle ends before the first.
 */
const FINE_UNITS = 200_000_000;
/** A picture of some four thousand ragged pads is still done, though it takes longer than anything else may. */
const LONGEST = 1.5;

const NO_BEAM: PerAxis = { x: 0, y: 0 };

/**
 * Chooses for each shape the dots whose cut comes nearest to it, and lays them where the opening's centre is.
 *
 * Equal openings get equal dots, whatever lies around them, and symmetric ones symmetric dots. Only openings that have
 * film between them in the artwork and would grow together are moved or trimmed.
 *
 * @param kerfMm - full widths by which the beam widens what it burns; not given: the dots alone count
 * @param canvas - dots; openings near the edge are kept on it
 * @param standing - which ones give way where two would grow together; what is for the eye is not looked at for the best
 */
export function areaTrue(
  shapes: readonly PixelShape[],
  dot: PerAxis,
  kerfMm?: PerAxis,
  canvas?: PerAxis,
  standing: (i: number) => Standing = () => 'first',
): AreaTrue {
  const kerf = kerfMm ? { x: kerfMm.x / dot.x, y: kerfMm.y / dot.y } : NO_BEAM;
  const placed: PlacedStamp[] = new Array(shapes.length);
  const fitted: Fitted[] = new Array(shapes.length);
  const classes = classifyShapes(shapes);
  const hasty = isMuch(classes);
  for (const [done, found] of classes.entries()) {
    tellHowFar('choosing dots', done, classes.length);
    const readily = found.members.every(({ index }) => standing(index) === 'for the eye');
    const fit = fitDots(found, kerf, dot, { hasty, readily });
    for (const { index } of found.members) fitted[index] = fit;
    layAll(found.members, fit, shapes, placed, canvas);
  }
  keepApart(shapes, placed, kerf, (i) => standing(i) !== 'first');
  return { placed, fitted };
}

/** Whether there is so much to do that it must be done in haste. @throws {InputError} TOO_MUCH where that takes too long, too */
function isMuch(classes: readonly EqualShapes[]): boolean {
  let [full, hasty] = [0, 0];
  for (const found of classes) {
    const work = workFor(found);
    full += work.full;
    hasty += work.hasty;
  }
  if (full <= FINE_UNITS) return false;
  const budget = budgetInForce();
  if (budget && hasty > LONGEST * budget.rest) throw tooMany(classes.length);
  // What is let pass beyond the rest leaves that to the few large ones, which are counted as they go.
  if (budget && hasty <= budget.rest) budget.spend(hasty);
  return true;
}

function tooMany(shapes: number): InputError {
  return new InputError({
    code: 'TOO_MUCH',
    message: `${shapes} shapes that are all different, with slanted or ragged walls, are too many to choose dots for.`,
    hint: 'Paste layers repeat a few dozen shapes; check that this is the right file.',
  });
}

/** Lays dots where each of these openings has its centre. */
function layAll(
  members: readonly ClassMember[],
  { stamp: own, left, top }: Fitted,
  shapes: readonly PixelShape[],
  placed: PlacedStamp[],
  canvas: PerAxis | undefined,
): void {
  // By how they are mirrored: 1 left to right, 2 top to bottom, 3 both.
  const flipped = new Map<number, Stamp>([[0, own]]);
  for (const { index, flipX, flipY } of members) {
    const key = (flipX ? 1 : 0) + (flipY ? 2 : 0);
    const stamp = flipped.get(key) ?? flipStamp(own, flipX, flipY);
    flipped.set(key, stamp);
    const { minX, maxX, minY, maxY } = shapes[index];
    const [middleX, middleY] = [(minX + maxX) / 2, (minY + maxY) / 2];
    const onCanvas = (at: number, length: number, most: number): number =>
      length <= most ? Math.min(Math.max(at, 0), most - length) : at;
    const column = placeFor(middleX + (flipX ? -left - stamp.width : left), middleX - stamp.width / 2);
    const row = placeFor(middleY + (flipY ? -top - stamp.height : top), middleY - stamp.height / 2);
    placed[index] = canvas
      ? { stamp, column: onCanvas(column, stamp.width, canvas.x), row: onCanvas(row, stamp.height, canvas.y) }
      : { stamp, column, row };
  }
}

/**
 * Where a stamp goes along one axis: by the centre of what is cut, but for frames and the like. One more dot on one side
 * of a thin frame moves its centre of area by many dots, and the frame itself by half a one.
 */
function placeFor(byArea: number, byBox: number): number {
  return Math.round(Math.abs(byArea - byBox) > FRAME_DOTS ? byBox : byArea);
}

/** A stamp mirrored left to right, top to bottom, or both. */
function flipStamp(stamp: Stamp, flipX: boolean, flipY: boolean): Stamp {
  const rows = Array.from({ length: stamp.height }, (_, r) => {
    const runs = Array.from(stamp.runs.subarray(stamp.rowStart[r], stamp.rowStart[r + 1]));
    return flipX ? runs.reverse().map((x) => stamp.width - x) : runs;
  });
  return stampFromRows(flipY ? rows.reverse() : rows).stamp;
}

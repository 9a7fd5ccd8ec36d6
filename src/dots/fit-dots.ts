import type { PerAxis } from '../geometry/types.js';
import { budgetInForce } from '../geometry/work-budget.js';
import { type Aim, aimOf } from './aim.js';
import { BeamGrid, burntBy } from './beam-grid.js';
import { fitted, type Way } from './fitting.js';
import { hasStraightWalls, laidOn } from './lay-on-grid.js';
import type { PixelShape } from './shape.js';
import type { EqualShapes } from './shape-classes.js';
import { type PadSide, sidesOf } from './sides.js';
import { rectangleOfDots, type Stamp, stampFromMask, stampFromRows, uprightRectangle } from './stamp.js';

/** The dots that stand for all openings of a shape. */
export interface FittedDots {
  readonly stamp: Stamp;
  /** Upper left corner of the stamp from the middle of the shape's box, with the cut's centre of area where it should be. */
  readonly left: number;
  readonly top: number;
  /** What is burnt less what should be, as a share of that. */
  readonly areaErrorPercent: number;
  /** Errors across the shape's own two sides, mm. */
  readonly sideErrorsMm: readonly number[];
}

/** Boxes of no more dots than the last are looked at with the beam, and of no more than the second at every phase. */
const TINY_DOTS = 1000;
const SMALL_DOTS = 12_000;
const BEAM_DOTS = 250_000;

/** Looks along a dot, by the dots of the box: the larger, the less a single one matters. */
const looksFor = (dots: number): number => (dots <= TINY_DOTS ? 3 : dots <= SMALL_DOTS ? 2 : 1);

/** An opening of less area than this is none, dots squared. */
const NOTHING = 1e-9;

/** What a dot of a box costs, and one that a wall crosses, in the units of `WorkBudget`, for each place that is tried. */
const DOT_COST = 0.1;
const CROSSED_COST = 1000;
/** The same of small shapes, looked at finely and in haste, and what any of them costs besides. */
const SMALL_CROSSED_COST = { full: 350, hasty: 200 };
const SHAPE_COST = 20_000;

/** What it takes at most to choose dots for a small shape, in the units of `WorkBudget`; large ones are counted as they go. */
export function workFor(found: EqualShapes): { readonly full: number; readonly hasty: number } {
  const { shape } = found;
  const size = boxDots(shape);
  if (!(shape.area > NOTHING) || size > SMALL_DOTS || uprightRectangle(shape)) return { full: 0, hasty: 0 };
  const crossed = dotsCrossed(shape);
  const phases = (few: boolean): number => phasesOf(shape, found, size, few).length;
  return {
    full: SHAPE_COST + SMALL_CROSSED_COST.full * crossed * phases(false),
    hasty: SHAPE_COST + SMALL_CROSSED_COST.hasty * crossed * phases(true),
  };
}

const boxDots = ({ minX, minY, maxX, maxY }: PixelShape): number => (maxX - minX + 2) * (maxY - minY + 2);

/**
 * The dots whose cut comes nearest to a shape's: every limb first, then both widths, then area at the corners.
 *
 * All dots that the shape touches hold every limb of it. From these the outer ones are peeled, only where they stick out
 * at a corner and only while what hangs together stays so, as long as the cut comes nearer to what it should be: what
 * the beam makes of the dots is what counts, since it fills stairs and rounds corners.
 *
 * @param kerf - full widths of the beam, dots
 * @param dot - mm
 * @param how - `hasty`: a small shape is looked at as a large one is, coarsely and at fewer places within a dot;
 *   `readily`: the first place that is near enough is taken, instead of the best
 * @throws {InputError} TOO_MUCH for a large one
 */
export function fitDots(
  found: EqualShapes,
  kerf: PerAxis,
  dot: PerAxis,
  { hasty = false, readily = false }: { readonly hasty?: boolean; readonly readily?: boolean } = {},
): FittedDots {
  const { shape } = found;
  if (!(shape.area > NOTHING))
    return { stamp: stampFromRows([]).stamp, left: 0, top: 0, areaErrorPercent: 0, sideErrorsMm: [0, 0] };
  const rectangle = uprightRectangle(shape);
  if (rectangle) return fittedRectangle(rectangle, kerf, dot);
  const size = boxDots(shape);
  const crossed = dotsCrossed(shape);
  const few = hasty || size > SMALL_DOTS;
  const sides = sidesOf(shape, dot);
  const looks = hasty ? 1 : looksFor(size);
  const aim = aimOf(shape, sides, kerf, size <= BEAM_DOTS ? burntBy(shape, kerf, looks) : undefined);
  let best: Way | undefined;
  for (const keep of loosened(found)) {
    for (const [x, y] of withoutImages(phasesOf(shape, keep, size, few), found)) {
      if (size > SMALL_DOTS) budgetInForce()?.spend(DOT_COST * size + CROSSED_COST * crossed);
      const way = fitted(laidOn({ ...found, ...keep }, x, y), sides, aim);
      if (way.cost < (best?.cost ?? Infinity) - 1e-9) best = way;
      if (readily && best?.isNear) break;
    }
    if (few || best?.isNear) break;
  }
  return fittedOf(best as Way, shape, sides, aim);
}

/** About how many dots the walls of a shape cross. */
function dotsCrossed({ walls }: PixelShape): number {
  let sum = 0;
  for (let at = 0; at < walls.length; at += 4)
    sum += Math.abs(walls[at + 2] - walls[at]) + Math.abs(walls[at + 3] - walls[at + 1]);
  return sum;
}

type Symmetry = Pick<EqualShapes, 'mirrorX' | 'mirrorY' | 'halfTurn'>;

/** What dots keep of a shape: its symmetry, and walls without bumps. */
interface Kept extends Symmetry {
  readonly straight: boolean;
}

/** All of it; where none of such dots come near, less and less. */
function loosened({ shape, mirrorX, mirrorY, halfTurn }: EqualShapes): Kept[] {
  const none = { mirrorX: false, mirrorY: false, halfTurn: false, straight: false };
  const own = { mirrorX, mirrorY, halfTurn };
  return [
    { ...own, straight: true },
    ...(hasStraightWalls(shape) ? [{ ...own, straight: false }] : []),
    ...(halfTurn && mirrorX && mirrorY ? [{ ...none, halfTurn }] : []),
    ...(mirrorX || mirrorY || halfTurn ? [none] : []),
  ];
}

function fittedRectangle(size: PerAxis, kerf: PerAxis, dot: PerAxis): FittedDots {
  const { stamp, off, areaErrorPercent } = rectangleOfDots(size, kerf);
  const sideErrorsMm = [off.x * dot.x, off.y * dot.y];
  return { stamp, left: -stamp.width / 2, top: -stamp.height / 2, areaErrorPercent, sideErrorsMm };
}

/** Sizes so near to half a dot are tried at both numbers of dots, dots. */
const TIE_DOTS = 0.08;

type Phase = readonly [x: number, y: number];

/**
 * Where the middle of a shape may lie within a dot. A symmetric one has an odd or an even number of dots, and so its
 * middle in a dot or between two.
 */
function phasesOf({ minX, maxX, minY, maxY }: PixelShape, symmetry: Symmetry, dots: number, few: boolean): Phase[] {
  const large = dots > BEAM_DOTS;
  const fixed = symmetry.halfTurn || few;
  const phasesY = phasesAlong(maxY - minY, symmetry.mirrorY || large, fixed);
  return phasesAlong(maxX - minX, symmetry.mirrorX || large, fixed).flatMap((x) => phasesY.map((y): Phase => [x, y]));
}

/** Places within a dot without those whose dots are the image of another's, as the shape is its own. */
function withoutImages(phases: readonly Phase[], { mirrorX, mirrorY, halfTurn }: Symmetry): Phase[] {
  const signs = [mirrorX && [-1, 1], mirrorY && [1, -1], halfTurn && [-1, -1]].filter((pair) => pair !== false);
  const lieAt = (place: number): number => place - Math.floor(place);
  return phases.filter(([x, y], i) =>
    signs.every(([sx, sy]) => !phases.slice(0, i).some(([u, v]) => u === lieAt(sx * x) && v === lieAt(sy * y))),
  );
}

function phasesAlong(size: number, mirrored: boolean, fixed: boolean): number[] {
  const even = Math.max(1, Math.round(size)) % 2 === 0;
  const own = even ? 0 : 0.5;
  if (!mirrored) return fixed ? [0, 0.5] : [0, 0.25, 0.5, 0.75];
  const tied = size > 1 && Math.abs(size - Math.floor(size) - 0.5) < TIE_DOTS;
  return tied ? [own, 0.5 - own] : [own];
}

function fittedOf(way: Way, shape: PixelShape, sides: readonly PadSide[], aim: Aim): FittedDots {
  const { laid, mask, area, errors } = way;
  const { stamp, column, row } = stampFromMask(mask, laid.columns, laid.rows);
  const [left, top] = [column - laid.middle.x, row - laid.middle.y];
  // The beam adds as much all around, which moves the centre of a lopsided shape and of its dots by different ways.
  const off = aim.burnt
    ? new BeamGrid(mask, laid.columns, laid.rows, laid.middle, aim.burnt).offCentre()
    : { x: left + stamp.centreX - shape.centreX, y: top + stamp.centreY - shape.centreY };
  return {
    stamp,
    left: left - off.x,
    top: top - off.y,
    areaErrorPercent: (100 * (area - aim.area)) / aim.area,
    sideErrorsMm: errors.slice(0, 2).map((error, i) => error * sides[i].dotMm),
  };
}

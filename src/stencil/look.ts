import { type PixelShape, wallsOfAll } from '../dots/shape.js';
import { boxOfDots, type PlacedStamp, uprightRectangle } from '../dots/stamp.js';
import { openingArea } from '../geometry/area.js';
import { joinBoxes } from '../geometry/bounds.js';
import { isConvex } from '../geometry/convex.js';
import { boxAxes, ownAxes, sizeAlong } from '../geometry/oriented-box.js';
import type { Box, Point, Region } from '../geometry/types.js';
import { once } from '../kept.js';
import { kerfAlong } from '../machine/machine-model.js';
import {
  type Bands,
  bandsOfDots,
  bandsOfWalls,
  centreOfBands,
  countParts,
  farther,
  grown,
  grownArea,
  type Lattice,
  uncovered,
} from './bands.js';

/** Width or height may be off by so much, in dots: half a dot is what rounding takes, a quarter is left for symmetry. */
const SIZE_DOTS = 0.75;
/**
 * Less or more area than was asked may come out by so much, percent; what corners lose to the beam is lost, too. The
 * choice of dots aims at less (WIDE_OFF in dots/aim.ts).
 */
const AREA_PERCENT = 5;
/** The same for an upright rectangle that comes out as near as can be: there are no better dots, and corners are round. */
const RECTANGLE_PERCENT = 10;
/** What the correction aims at must be burnt up to this far, in dots. */
const LIMB_DOTS = 1;
/**
 * Corners come back rounded by half a kerf. One of so many degrees loses its tip by this many half kerfs; whatever is
 * lost farther in is no rounding of a corner.
 */
const SHARPEST_CORNER_DEG = 45;
const CORNER_HALF_KERFS = 1 / Math.sin((SHARPEST_CORNER_DEG * Math.PI) / 360) - 1;

/** Two sizes square to each other, asked and as they come out. */
export interface Sizes {
  readonly askedMm: readonly [number, number];
  readonly gotMm: readonly [number, number];
}

/** An opening as asked and as it comes out, wherever it lies: sizes along its own sides. */
export interface Look extends Sizes {
  /** What comes out of the corrected opening, whichever dots stand for it: less where the beam rounds tips. */
  readonly aimedMm: readonly [number, number];
  readonly askedMm2: number;
  readonly gotMm2: number;
  /** Those that are off: along its own sides, or else along the smallest box around it. */
  readonly sizesOff?: Sizes;
  readonly areaOff: boolean;
  /** How much farther the centre of what is cut lies off than that of the dots, in dots: of lopsided shapes. */
  readonly drift: readonly [number, number];
  /** How many parts it comes out in. */
  readonly parts: number;
  /** The largest part of it that is missing, in dots. */
  readonly lost?: Box;
}

/** What the correction makes of an opening, whichever dots stand for it later. */
export interface ExpectedCut {
  /** Corrected, in dots. */
  readonly pieces: readonly PixelShape[];
  /** Along its own sides first, then along the smallest box around it if that lies askew to them. */
  readonly extents: readonly [Extents, ...Extents[]];
  readonly askedMm2: number;
  readonly convex: boolean;
  readonly bands: () => Bands;
  /** What the corrected pieces come out as. */
  readonly own: () => Bands;
  /** Area of what comes out of the corrected pieces, dots squared. */
  readonly area: () => number;
  /** Whether a thinnest line stands for a part of it. */
  readonly narrow: boolean;
  /** The largest part that the correction itself has lost. */
  readonly lost?: Box;
}

/** What an opening measures along two directions on the film, and what comes out of its corrected pieces. */
interface Extents extends Sizes {
  readonly axes: readonly [Point, Point];
}

/**
 * @param drawn - the opening itself in dots
 * @param narrow - whether a thinnest line stands for a part of it
 */
export function expectedCut(
  asked: Region,
  drawn: () => PixelShape,
  pieces: readonly PixelShape[],
  narrow: boolean,
  lattice: Lattice,
): ExpectedCut {
  const sides = ownAxes(asked);
  const box = boxAxes(asked, sides);
  const corners = pieces.flatMap(({ walls }) =>
    Array.from({ length: walls.length / 4 }, (_, i) => onFilm(lattice, walls[4 * i], walls[4 * i + 1])),
  );
  const extentsAlong = (axes: readonly [Point, Point]): Extents => ({
    axes,
    askedMm: sizeAlong(asked, axes),
    gotMm: burntSize(corners, axes, lattice),
  });
  const convex = asked.islands.length === 0 && pieces.length === 1 && isConvex(asked.outer);
  const bands = once(() => bandsOfWalls(wallsOfAll(pieces)));
  const own = once(() => grown(bands(), lattice.beam));
  return {
    pieces,
    extents: [extentsAlong(sides), ...(box ? [extentsAlong(box)] : [])],
    askedMm2: openingArea(asked),
    convex,
    bands,
    own,
    area: once(() => (pieces.length === 1 ? steinerArea(pieces[0], lattice) : grownArea(bands(), lattice.beam))),
    narrow,
    lost:
      convex && !hasSharpCorner(asked)
        ? undefined
        : uncovered(
            bandsOfWalls(drawn().walls),
            grown(bands(), farther(lattice.beam, 1 + CORNER_HALF_KERFS, LIMB_DOTS)),
          ),
  };
}

/** How many parts the corrected pieces come out in. */
export function partsOfAim({ pieces, bands }: ExpectedCut, { beam }: Lattice): number {
  return pieces.length > 1 ? countParts(grown(bands(), beam)) : pieces.length;
}

/** What comes out of the dots that stand for an opening. */
export function lookAt(aim: ExpectedCut, placed: readonly PlacedStamp[], lattice: Lattice): Look {
  const { askedMm2 } = aim;
  const corners = placed.flatMap((one) => cornersOf(one, lattice));
  const sizes = aim.extents.map(
    ({ axes, askedMm }): Sizes => ({ askedMm, gotMm: burntSize(corners, axes, lattice.burning) }),
  );
  const sizesOff = sizes.find((one, i) => areOff(one, aim.extents[i], aim.narrow, lattice));
  const dots = bandsOfDots(placed);
  const cut = grown(dots, lattice.burning.beam);
  const area = grownArea(dots, lattice.burning.beam);
  const drift = driftOf(aim, placed, cut);
  const missedAt = ([dx, dy]: readonly [number, number]) => lostLimb(aim, bandsOfDots(placed, dx, dy), lattice);
  // A limb that one row more makes thicker moves the centre of all, by more than a dot in a large L: laid by its box it is whole.
  const missed = missedAt([-drift[0], -drift[1]]) && missedAt(toBox(aim, placed));
  const lost = aim.lost ?? (missed && aim.narrow && isBelowBeam(missed, lattice) ? undefined : missed);
  return {
    ...sizes[0],
    aimedMm: aim.extents[0].gotMm,
    askedMm2,
    gotMm2: area * lattice.dotMm2,
    ...(sizesOff ? { sizesOff } : {}),
    areaOff: isAreaOff(area, aim, lattice, placed),
    drift,
    // What hangs together is burnt so.
    parts: countParts(dots) === 1 ? 1 : countParts(cut),
    ...(lost ? { lost } : {}),
  };
}

/** Whether no more is missing than the beam covers: of a thinnest line, which is told of, that is nothing new. */
const isBelowBeam = ({ minX, minY, maxX, maxY }: Box, { beam }: Lattice): boolean =>
  (maxX - minX) * (maxY - minY) < 4 * beam.halfWidth * beam.halfHeight;

function areOff({ askedMm, gotMm }: Sizes, aimed: Extents, narrow: boolean, lattice: Lattice): boolean {
  return aimed.axes.some((axis, i) => beyond(gotMm[i], askedMm[i], aimed.gotMm[i], narrow) > sizeLimit(axis, lattice));
}

/**
 * How far a figure lies outside of what is right: what was asked, or less where the beam rounds corners and tips; where a
 * thinnest line stands for a part, which is told of, what comes of that, too.
 */
function beyond(got: number, asked: number, aimed: number, narrow: boolean): number {
  const [least, most] = [Math.min(asked, aimed), narrow ? Math.max(asked, aimed) : asked];
  return Math.max(least - got, got - most);
}

/** Whether more of the asked area is missing, or burnt besides, than may be. What comes of a thinnest line is told of. */
export function isAreaOff(
  area: number,
  aim: ExpectedCut,
  { dotMm2 }: Lattice,
  placed?: readonly PlacedStamp[],
): boolean {
  const percent = isBestRectangle(aim, placed) ? RECTANGLE_PERCENT : AREA_PERCENT;
  const asked = aim.askedMm2 / dotMm2;
  const [least, most] = aim.narrow ? [Math.min(asked, aim.area()), Math.max(asked, aim.area())] : [asked, asked];
  return Math.max(least - area, area - most) > (percent / 100) * asked;
}

/** Two areas that differ by a smaller share are the same: a rectangle's, and that of its sides. */
const SAME_AREA = 1e-6;
/** Half a dot, and rounding noise. */
const HALF = 0.5 + 1e-6;

/** Whether an upright rectangle comes out as near as can be: by paths, or in the nearest number of columns and rows. */
function isBestRectangle(
  { pieces, extents: [{ askedMm }], askedMm2 }: ExpectedCut,
  placed?: readonly PlacedStamp[],
): boolean {
  if (pieces.length !== 1 || (placed && placed.length !== 1)) return false;
  const size = uprightRectangle(pieces[0]);
  if (!size || Math.abs(askedMm[0] * askedMm[1] - askedMm2) > SAME_AREA * askedMm2) return false;
  if (!placed) return true;
  const { width, height } = placed[0].stamp;
  return Math.abs(width - size.x) <= HALF && Math.abs(height - size.y) <= HALF;
}

/** From where dots lie to where their box lies about the middle of that of the pieces, in dots. */
function toBox({ pieces }: ExpectedCut, placed: readonly PlacedStamp[]): readonly [number, number] {
  const [to, from] = [middleOfBoxes(pieces), middleOfBoxes(placed.map(boxOfDots))];
  return [to[0] - from[0], to[1] - from[1]];
}

/** The middle of the box around some. */
export function middleOfBoxes(boxes: readonly Box[]): Point {
  const { minX, minY, maxX, maxY } = boxes.reduce(joinBoxes);
  return [(minX + maxX) / 2, (minY + maxY) / 2];
}

/** What the beam adds all around moves the centre of a lopsided shape, and of the dots that stand for it by as much more or less. */
function driftOf({ pieces, own }: ExpectedCut, placed: readonly PlacedStamp[], cut: Bands): readonly [number, number] {
  const [told, drawn] = [centreOfDots(placed), centreOfShapes(pieces)];
  const [burnt, aimed] = [centreOfBands(cut), centreOfBands(own())];
  return [burnt[0] - told[0] - aimed[0] + drawn[0], burnt[1] - told[1] - aimed[1] + drawn[1]];
}

/** Centre of area of dots. */
export const centreOfDots = (placed: readonly PlacedStamp[]): Point =>
  centreOf(placed.map(({ stamp, column, row }) => [column + stamp.centreX, row + stamp.centreY, stamp.count]));

/** The same of shapes. */
export const centreOfShapes = (shapes: readonly PixelShape[]): Point =>
  centreOf(shapes.map(({ centreX, centreY, area }) => [centreX, centreY, area]));

function centreOf(parts: readonly (readonly [x: number, y: number, weight: number])[]): Point {
  let [sumX, sumY, all] = [0, 0, 0];
  for (const [x, y, weight] of parts) {
    sumX += x * weight;
    sumY += y * weight;
    all += weight;
  }
  return [sumX / all, sumY / all];
}

/**
 * The largest part that lies farther from what is burnt than a limb's limit. Pieces that lie so near to the dots are
 * burnt so near, too; where they don't, the beam may still cover what the dots leave out.
 */
function lostLimb(aim: ExpectedCut, dots: Bands, { beam }: Lattice): Box | undefined {
  // A tip of a piece may be next to nothing, and what the beam makes of it more than a dot.
  if (!uncovered(aim.bands(), grown(dots, LIMB), SPECK_AREA)) return undefined;
  return uncovered(aim.own(), grown(dots, farther(beam, 1, LIMB_DOTS)));
}

/** Less of a piece than this is no more than its bands differ by, dots squared. */
const SPECK_AREA = 0.02;

const LIMB = { halfWidth: LIMB_DOTS, halfHeight: LIMB_DOTS, lean: 0, filmDots: 0 };

/** What the beam burns of what has these corners, along two directions, mm. */
function burntSize(
  outer: readonly Point[],
  axes: readonly [Point, Point],
  { model }: Pick<Lattice, 'model'>,
): [number, number] {
  const [width, height] = sizeAlong({ outer }, axes);
  return [width + kerfAlong(model, axes[0]), height + kerfAlong(model, axes[1])];
}

/** How far a size along a direction on the film may be off, mm. */
function sizeLimit([ux, uy]: Point, { toFilm: { a, b, c, d } }: Lattice): number {
  return SIZE_DOTS * Math.hypot(ux * a + uy * c, ux * b + uy * d);
}

const onFilm = ({ toFilm: { a, b, c, d } }: Lattice, x: number, y: number): Point => [a * x + b * y, c * x + d * y];

/** Corners of runs of dots, those of each row where its film ends. */
function cornersOf({ stamp, column, row }: PlacedStamp, lattice: Lattice): Point[] {
  const { filmDots } = lattice.burning.beam;
  return stamp.rows.flatMap((runs, r) =>
    runs.flatMap((x) => [filmDots, 1 - filmDots].map((down) => onFilm(lattice, column + x, row + r + down))),
  );
}

/**
 * Steiner's formula in the axes in which the beam is a circle: exact for a convex shape, and for any other as far as its
 * hollow corners are round, as the correction makes them.
 */
function steinerArea({ walls, area }: PixelShape, { beam }: Lattice): number {
  const { halfWidth, halfHeight, lean } = beam;
  let [around, rings] = [0, 0];
  for (let at = 0; at < walls.length; at += 4) {
    const dy = walls[at + 3] - walls[at + 1];
    const dx = walls[at + 2] - walls[at] - lean * dy;
    around += Math.hypot(dx * halfHeight, dy * halfWidth);
    if (at === 0 || walls[at] !== walls[at - 2] || walls[at + 1] !== walls[at - 1]) rings += 1;
  }
  // A ring around film turns the other way.
  return area + around + (2 - rings) * Math.PI * halfWidth * halfHeight;
}

function hasSharpCorner({ outer }: Region): boolean {
  const limit = Math.cos(((180 - SHARPEST_CORNER_DEG) * Math.PI) / 180);
  const n = outer.length;
  return outer.some((b, i) => {
    const a = outer[(i + n - 1) % n];
    const c = outer[(i + 1) % n];
    const [ux, uy, vx, vy] = [b[0] - a[0], b[1] - a[1], c[0] - b[0], c[1] - b[1]];
    return ux * vx + uy * vy < (limit - 1e-9) * Math.hypot(ux, uy) * Math.hypot(vx, vy);
  });
}

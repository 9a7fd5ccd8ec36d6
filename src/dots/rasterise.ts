import { InputError } from '../errors.js';
import { boxIndex } from '../geometry/box-index.js';
import type { Affine, PerAxis, Region } from '../geometry/types.js';
import { nearestBetween, type Walls } from '../geometry/walls.js';
import { budgetInForce } from '../geometry/work-budget.js';
import { kept } from '../kept.js';
import { tellHowFar } from '../work-watch.js';
import { type FittedDots, fitDots, workFor } from './fit-dots.js';
import { FRAME_DOTS, type Nearness, type Rounding, roundingOf } from './rounding.js';
import { type PixelShape, toPixelShapes } from './shape.js';
import { type ClassMember, classifyShapes, type EqualShapes } from './shape-classes.js';
import { boxOfDots, type PlacedStamp, type Stamp, stampByCentres, stampFromRows, trimmedFrom } from './stamp.js';

export interface RasteriseOptions {
  /** Size of the canvas in dots. */
  readonly widthPx: number;
  readonly heightPx: number;
  /** From the openings' coordinates to dots: column to the right, row down from the upper edge. */
  readonly toPixels: Affine;
  /** Size of a dot, mm; only for the figures that come back in mm. */
  readonly dot: PerAxis;
  readonly rounding?: 'area-true' | 'snapped';
  /** Full widths by which the beam widens what it burns across the image's X and Y, mm. */
  readonly kerfMm?: PerAxis;
  /** What the openings are there for, by position. */
  readonly standing?: (index: number) => Standing;
}

export interface Dots {
  /** One for each opening, in their order. */
  readonly placed: readonly PlacedStamp[];
  readonly rounding: Rounding;
}

/** Chooses the dots that are burnt for each opening. */
export function dotsOf(openings: readonly Region[], options: RasteriseOptions): Dots {
  const shapes = toPixelShapes(openings, options.toPixels);
  if (options.rounding === 'snapped') {
    const placed = shapes.map(stampByCentres);
    const nearness = shapes.map((shape, i) => asDrawn(shape, placed[i], options.dot));
    return { placed, rounding: roundingOf(shapes, nearness, placed) };
  }
  const canvas = { x: options.widthPx, y: options.heightPx };
  const { placed, fitted } = areaTrue(shapes, options.dot, canvas, options.kerfMm, options.standing);
  return { placed, rounding: roundingOf(shapes, fitted, placed) };
}

function asDrawn(shape: PixelShape, { stamp }: PlacedStamp, dot: RasteriseOptions['dot']): Nearness {
  return {
    areaErrorPercent: shape.area > 0 ? (100 * (stamp.count - shape.area)) / shape.area : 0,
    sideErrorsMm: [(stamp.width - shape.maxX + shape.minX) * dot.x, (stamp.height - shape.maxY + shape.minY) * dot.y],
  };
}

/** Whether an opening gives way where two would grow together, and whether it is only for the eye, such as a letter. */
export type Standing = 'first' | 'yields' | 'for the eye';

export interface AreaTrue {
  readonly placed: readonly PlacedStamp[];
  /** For each opening how near its dots come. */
  readonly fitted: readonly FittedDots[];
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
 * @param canvas - dots; openings near the edge are kept on it
 * @param kerfMm - full widths by which the beam widens what it burns; not given: the dots alone count
 * @param standing - which ones give way where two would grow together; what is for the eye is not looked at for the best
 */
export function areaTrue(
  shapes: readonly PixelShape[],
  dot: PerAxis,
  canvas: PerAxis,
  kerfMm?: PerAxis,
  standing: (i: number) => Standing = () => 'first',
): AreaTrue {
  const kerf = kerfMm ? { x: kerfMm.x / dot.x, y: kerfMm.y / dot.y } : NO_BEAM;
  const placed: PlacedStamp[] = new Array(shapes.length);
  const fitted: FittedDots[] = new Array(shapes.length);
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
  { stamp: own, left, top }: FittedDots,
  shapes: readonly PixelShape[],
  placed: PlacedStamp[],
  canvas: PerAxis,
): void {
  // By how they are mirrored: 1 left to right, 2 top to bottom, 3 both.
  const flipped = new Map<number, Stamp>([[0, own]]);
  for (const { index, flipX, flipY } of members) {
    const key = (flipX ? 1 : 0) + (flipY ? 2 : 0);
    const stamp = kept(flipped, key, () => flipStamp(own, flipX, flipY));
    const { minX, maxX, minY, maxY } = shapes[index];
    const [middleX, middleY] = [(minX + maxX) / 2, (minY + maxY) / 2];
    const onCanvas = (at: number, length: number, most: number): number =>
      length <= most ? Math.min(Math.max(at, 0), most - length) : at;
    const column = placeFor(middleX + (flipX ? -left - stamp.width : left), middleX - stamp.width / 2);
    const row = placeFor(middleY + (flipY ? -top - stamp.height : top), middleY - stamp.height / 2);
    const place = { column: onCanvas(column, stamp.width, canvas.x), row: onCanvas(row, stamp.height, canvas.y) };
    placed[index] = { stamp, ...place };
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
  const rows = flipX ? stamp.rows.map((row) => row.map((x) => stamp.width - x).reverse()) : stamp.rows;
  return stampFromRows(flipY ? rows.toReversed() : rows).stamp;
}

/** Where no kerf is known, film that is at least this wide in the artwork keeps at least one dot everywhere. */
const KEPT_FILM_DOTS = 0.5;

/**
 * Openings that have film between them in the artwork never grow together, be it at a corner: one of the two is moved by
 * a dot, or where that does not help the larger one is trimmed.
 *
 * @param placed - changed in place
 * @param kerf - full widths of the beam, dots
 * @param yields - which ones give way to all others, whose dots are then the same as without them
 */
export function keepApart(
  shapes: readonly PixelShape[],
  placed: PlacedStamp[],
  kerf: PerAxis,
  yields: (i: number) => boolean = () => false,
): void {
  const reach = { x: Math.ceil(kerf.x) + 1, y: Math.ceil(kerf.y) + 1 };
  const index = boxIndex(placed, boxOfDots);
  const beam = beamOf(kerf);
  // Film is left where the beam, walking along one opening, does not reach the other: in beam widths.
  const [sx, sy] = kerf.x > 0 && kerf.y > 0 ? [kerf.x, kerf.y] : [KEPT_FILM_DOTS, KEPT_FILM_DOTS];
  const [scaledWalls, apart] = [new Map<number, Walls>(), new Map<number, boolean>()];
  const walls = (i: number): Walls => kept(scaledWalls, i, () => scaled(shapes[i], sx, sy));
  const askedApart = (i: number, j: number): boolean =>
    kept(apart, Math.min(i, j) * shapes.length + Math.max(i, j), () => {
      const nearest = nearestBetween(walls(i), walls(j), 2);
      return !nearest || nearest.distanceMm >= 1;
    });
  const isThere = (i: number, j: number): boolean => placed[j].stamp.count > 0 && (yields(i) || !yields(j));
  const joinedTo = (i: number): number[] =>
    placed[i].stamp.count === 0
      ? []
      : index
          .nearTo(i, Math.max(reach.x, reach.y) + 2)
          .filter((j) => isThere(i, j) && beam.joins(placed[i], placed[j]) && askedApart(i, j));
  const toBeTrimmed = (i: number, j: number): [number, number] =>
    yields(i) !== yields(j) || placed[i].stamp.count >= placed[j].stamp.count ? [i, j] : [j, i];
  const all = placed.map((_, i) => i);
  for (const i of [...all.filter((one) => !yields(one)), ...all.filter(yields)]) {
    for (const j of joinedTo(i)) {
      const alike = yields(i) === yields(j);
      if (alike && j < i) continue;
      if (movedFree(i, placed, joinedTo) || (alike && movedFree(j, placed, joinedTo))) continue;
      const [trimmed, whole] = toBeTrimmed(i, j);
      placed[trimmed] = trimmedFrom(placed[trimmed], placed[whole], beam.joinsAt, reach);
    }
  }
}

const MOVES: readonly (readonly [number, number])[] = [
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
];

/** Moves an opening by a dot if that sets it free from all others. */
function movedFree(i: number, placed: PlacedStamp[], joinedTo: (i: number) => number[]): boolean {
  const before = placed[i];
  for (const [dx, dy] of MOVES) {
    placed[i] = { ...before, column: before.column + dx, row: before.row + dy };
    if (joinedTo(i).length === 0) return true;
  }
  placed[i] = before;
  return false;
}

function scaled({ walls, minX, minY, maxX, maxY }: PixelShape, sx: number, sy: number): Walls {
  const xy = walls.map((value, i) => value / (i % 2 === 0 ? sx : sy));
  return { xy, box: { minX: minX / sx, minY: minY / sy, maxX: maxX / sx, maxY: maxY / sy } };
}

/** What two dots burn meets where the film between them is narrower than the beam; without one, where they touch. */
function beamOf(kerf: PerAxis) {
  /** Film between two runs, in columns, below which they join when so many rows apart; below 0: never. */
  const across = (rowsApart: number): number => {
    const film = Math.max(0, Math.abs(rowsApart) - 1);
    if (kerf.y <= 0) return film === 0 ? kerf.x : -1;
    return film <= kerf.y ? kerf.x * Math.sqrt(1 - (film / kerf.y) ** 2) : -1;
  };
  const most = Math.ceil(kerf.y) + 1;
  const limits = Array.from({ length: 2 * most + 1 }, (_, k) => across(k - most));
  const joinsAt = (columnsApart: number, rowsApart: number): boolean =>
    Math.abs(rowsApart) <= most && Math.max(0, Math.abs(columnsApart) - 1) <= limits[rowsApart + most];
  const joins = (p: PlacedStamp, q: PlacedStamp): boolean => {
    const from = Math.max(p.row, q.row - most);
    const to = Math.min(p.row + p.stamp.height, q.row + q.stamp.height + most);
    for (let row = from; row < to; row += 1) {
      for (let k = 0; k <= 2 * most; k += 1) {
        if (limits[k] >= 0 && runsJoin(p, row - p.row, q, row + k - most - q.row, limits[k])) return true;
      }
    }
    return false;
  };
  return { joins, joinsAt };
}

function runsJoin(p: PlacedStamp, pRow: number, q: PlacedStamp, qRow: number, limit: number): boolean {
  const [own, other, dx] = [p.stamp.rows[pRow], q.stamp.rows[qRow] ?? [], q.column - p.column];
  // Runs are in order: whichever ends first meets nothing further right.
  for (let [i, j] = [0, 0]; i < own.length && j < other.length; ) {
    if (Math.max(other[j] + dx - own[i + 1], own[i] - dx - other[j + 1]) <= limit) return true;
    if (own[i + 1] < other[j + 1] + dx) i += 2;
    else j += 2;
  }
  return false;
}

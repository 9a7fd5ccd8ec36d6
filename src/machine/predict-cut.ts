import { InputError, type Warning } from '../errors.js';
import { mapOpening, openingMapper } from '../geometry/affine.js';
import { openingArea, openingCentroid } from '../geometry/area.js';
import { intersectRegions, unionRegions } from '../geometry/boolean.js';
import { joinBoxes, regionBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { cleanOpenings, requireOpenings } from '../geometry/clean.js';
import { copyAt, copyOf, oncePerShape } from '../geometry/copies.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { ownAxes, sizeAlong } from '../geometry/oriented-box.js';
import { ShapeCache } from '../geometry/shape-cache.js';
import type { Affine, Opening, Point, Region } from '../geometry/types.js';
import { limited } from '../geometry/work-budget.js';
import { checkGiven, someList } from '../given.js';
import { kept } from '../kept.js';
import { tellHowFar } from '../work-watch.js';
import { bendsLeftOut, type ModelSource, machineMap, machineModel } from './machine-model.js';

export interface PredictOptions {
  /** What was asked for, film mm. Not given: the commanded openings themselves. */
  readonly asked?: readonly Opening[];
  /** For each commanded opening, the number (from 1) of the asked one that it makes. Not given: 1, 2, 3, … */
  readonly numbers?: readonly number[];
}

/** One opening as asked and as it will come out, on the film laid on as well as can be. */
export interface PredictedOpening {
  readonly number: number;
  /** Extent along the opening's own two sides; the width is the one nearer to X. 0 for what will not be cut. */
  readonly askedWidthMm: number;
  readonly askedHeightMm: number;
  readonly cutWidthMm: number;
  readonly cutHeightMm: number;
  readonly askedAreaMm2: number;
  readonly cutAreaMm2: number;
  /** How far the centre comes out from where it should lie, mm. */
  readonly dxMm: number;
  readonly dyMm: number;
}

/** How far off a whole stencil is. */
export interface PredictionSummary {
  readonly openings: number;
  readonly rmsWidthErrorMm: number;
  /** Mean of signed errors over widths and heights: above zero, openings come out too wide. */
  readonly meanWidthErrorMm: number;
  readonly maxWidthErrorMm: number;
  readonly rmsPositionErrorMm: number;
  readonly maxPositionErrorMm: number;
  readonly meanAreaErrorPercent: number;
  /** Pairs of opening numbers between which no web is left. */
  readonly burntWebs: readonly (readonly [number, number])[];
}

export interface Prediction {
  /** What will be burnt, film mm, aligned to what was asked; one entry per asked opening, in pieces. */
  readonly film: readonly (readonly Region[])[];
  readonly items: readonly PredictedOpening[];
  readonly summary: PredictionSummary;
  /** What had to be put right in the openings before they could be cut. */
  readonly warnings: readonly Warning[];
}

/**
 * A virtual cut: cut(C) = A·C ⊕ E for each commanded opening, laid on what was asked by the best shift and turn.
 *
 * @param openings - what the machine is told, mm: corrected openings, or artwork as it is
 * @param profile - a profile, a fit's result, or the five numbers themselves
 * @returns per opening what will come out against what was asked; a summary; webs that burn away
 * @throws {InputError} TOO_MUCH for openings that take more than all reason; BAD_OPENING; NUMBERS_MISMATCH when `numbers` and `asked` do not fit the openings
 * @example predictCut(correctOpenings(openings, profile).openings, profile).summary.openings // 108
 */
export function predictCut(
  openings: readonly Opening[],
  profile: ModelSource,
  options: PredictOptions = {},
): Prediction {
  checkGiven('options', options, { asked: someList, numbers: someList });
  requireOpenings(openings);
  const asked = options.asked ?? openings;
  const numbers = options.numbers ?? openings.map((_, i) => i + 1);
  if (numbers.length !== openings.length || numbers.some((n) => !(n >= 1 && n <= asked.length))) {
    throw new InputError({
      code: 'NUMBERS_MISMATCH',
      message: `expected one number from 1 to ${asked.length} for each of ${openings.length} commanded openings, found ${numbers.length}.`,
      hint: 'Hand over `numbers` and `asked` as correctOpenings gives them.',
    });
  }
  return limited(openings, () => {
    const commanded = cleanOpenings(openings);
    const wanted = asked === openings ? commanded : cleanOpenings(asked);
    const warnings = wanted === commanded ? commanded.warnings : [...commanded.warnings, ...wanted.warnings];
    return {
      ...predicted(commanded.openings, profile, wanted.openings, numbers),
      warnings: [...warnings, ...bendsLeftOut(profile)],
    };
  });
}

function predicted(
  openings: readonly Opening[],
  profile: ModelSource,
  asked: readonly Opening[],
  numbers: readonly number[],
): Omit<Prediction, 'warnings'> {
  const film = cutPieces(openings, profile, numbers, asked.length);
  const turned = openingMapper(alignment(asked, film));
  // In its place: a board of ragged outlines has millions of points, and twice is too often.
  for (const pieces of film) for (let k = 0; k < pieces.length; k += 1) pieces[k] = turned(pieces[k]);
  const items = asked.map((opening, i) => {
    tellHowFar('comparing', i, asked.length);
    return compare(opening, film[i], i + 1);
  });
  return { film, items, summary: { ...summarise(items), burntWebs: findBurntWebs(film) } };
}

/** Lays what is cut on what was asked, by the places of the openings that are there. */
function alignment(asked: readonly Opening[], cut: readonly (readonly Region[])[]): Affine {
  const there = [...asked.keys()].filter((i) => cut[i].length > 0);
  return alignRigid(
    there.map((i) => placeOf(cut[i], asked[i])),
    there.map((i) => placeOf([asked[i]], asked[i])),
  );
}

/** What has less area is not there: no dot and no path comes of it. */
const NOTHING_MM2 = 1e-9;

/**
 * What the machine makes of what it is told, laid nowhere, mm: for each of `count` openings the pieces that come out.
 *
 * @param numbers - which opening, counting from 1, each commanded one is a part of
 */
export function cutPieces(
  openings: readonly Opening[],
  profile: ModelSource,
  numbers: readonly number[],
  count: number,
): Region[][] {
  const model = machineModel(profile);
  const map = machineMap(model);
  const cache = new ShapeCache((region) => {
    const mapped = mapOpening(map, region);
    return openingArea(mapped) > NOTHING_MM2 ? offsetByEllipse(mapped, model.kerfXMm, model.kerfYMm, 1) : [];
  });
  const cut = new Array<Region[]>(count).fill([]);
  openings.forEach((opening, i) => {
    tellHowFar('cutting virtually', i, openings.length);
    const { result, at } = cache.get(opening);
    const x = map.a * at[0] + map.b * at[1];
    const y = map.d * at[1];
    const pieces = result.map((piece) => copyAt(piece, x, y));
    const before = cut[numbers[i] - 1];
    cut[numbers[i] - 1] = before.length > 0 ? [...before, ...pieces] : pieces;
  });
  return cut.map((pieces) => (pieces.length > 1 ? unionRegions(pieces) : pieces));
}

/** An opening that fills less of its box is a frame: a wall a little thicker moves its centre of area, not the frame. */
const FRAME_FILL = 0.2;

const isFrame = oncePerShape((region: Region): boolean => {
  const { minX, minY, maxX, maxY } = regionBounds(region);
  return openingArea(region) < FRAME_FILL * (maxX - minX) * (maxY - minY);
});

/** Where an opening lies as cut or as asked: its centre of area, or the middle of its box for frames. */
function placeOf(pieces: readonly Region[], asked: Opening): Point {
  if (!isFrame(asked)) return centre(pieces);
  const { minX, minY, maxX, maxY } = pieces.map(regionBounds).reduce(joinBoxes);
  return [(minX + maxX) / 2, (minY + maxY) / 2];
}

function centre(pieces: readonly Region[]): Point {
  if (pieces.length === 1) return openingCentroid(pieces[0]);
  const areas = pieces.map(openingArea);
  const area = areas.reduce((sum, a) => sum + a, 0);
  const mean = (axis: 0 | 1): number =>
    pieces.reduce((sum, piece, i) => sum + areas[i] * openingCentroid(piece)[axis], 0) / area;
  return [mean(0), mean(1)];
}

const axesOf = oncePerShape(ownAxes);

type Axes = ReturnType<typeof ownAxes>;
const sizes = new WeakMap<Axes, WeakMap<Region, readonly [number, number]>>();

/** Extents of an opening, worked out once a shape and direction. */
function sizeOf(region: Region, axes: Axes): readonly [number, number] {
  const shape = copyOf(region)?.shape ?? region;
  const along = kept(sizes, axes, () => new WeakMap());
  return kept(along, shape, () => sizeAlong(shape, axes));
}

function compare(asked: Opening, film: readonly Region[], number: number): PredictedOpening {
  const axes = axesOf(asked);
  const [askedWidthMm, askedHeightMm] = sizeOf(asked, axes);
  const outer = film.length > 1 ? film.flatMap((piece) => piece.outer) : [];
  const [cutWidthMm, cutHeightMm] =
    film.length === 1 ? sizeOf(film[0], axes) : outer.length > 0 ? sizeAlong({ outer }, axes) : [0, 0];
  const [ax, ay] = placeOf([asked], asked);
  const [cx, cy] = film.length > 0 ? placeOf(film, asked) : [ax, ay];
  return {
    number,
    askedWidthMm,
    askedHeightMm,
    cutWidthMm,
    cutHeightMm,
    askedAreaMm2: openingArea(asked),
    cutAreaMm2: film.reduce((sum, piece) => sum + openingArea(piece), 0),
    dxMm: cx - ax,
    dyMm: cy - ay,
  };
}

/** How much more area is cut than was asked, percent; nothing where none was. */
export const moreArea = ({ askedAreaMm2, cutAreaMm2 }: Compared): number =>
  askedAreaMm2 > 0 ? (100 * (cutAreaMm2 - askedAreaMm2)) / askedAreaMm2 : 0;

/** An opening as asked and as it comes out. */
export type Compared = Omit<PredictedOpening, 'number'>;

/** How far off all openings of a stencil are. */
export function summarise(items: readonly Compared[]): Omit<PredictionSummary, 'burntWebs'> {
  let [width, width2, maxWidthErrorMm, place2, maxPositionErrorMm, area] = [0, 0, 0, 0, 0, 0];
  for (const item of items) {
    const wider = item.cutWidthMm - item.askedWidthMm;
    const higher = item.cutHeightMm - item.askedHeightMm;
    width = width + wider + higher;
    width2 = width2 + wider * wider + higher * higher;
    maxWidthErrorMm = Math.max(maxWidthErrorMm, Math.abs(wider), Math.abs(higher));
    const far = Math.hypot(item.dxMm, item.dyMm);
    place2 += far * far;
    maxPositionErrorMm = Math.max(maxPositionErrorMm, far);
    area += moreArea(item);
  }
  const count = Math.max(1, items.length);
  return {
    openings: items.length,
    rmsWidthErrorMm: Math.sqrt(width2 / (2 * count)),
    meanWidthErrorMm: width / (2 * count),
    maxWidthErrorMm,
    rmsPositionErrorMm: Math.sqrt(place2 / count),
    maxPositionErrorMm,
    meanAreaErrorPercent: area / count,
  };
}

/** Pairs whose burnt areas overlap. */
function findBurntWebs(film: readonly (readonly Region[])[]): [number, number][] {
  const pieces: Region[] = [];
  const numbers: number[] = [];
  film.forEach((regions, i) => {
    for (const region of regions) numbers[pieces.push(region) - 1] = i + 1;
  });
  const pairs = new Map<string, [number, number]>();
  boxIndex(pieces, regionBounds).eachPair((i, j) => {
    // Pieces stand in the order of their openings.
    if (numbers[j] === numbers[i]) return;
    const pair: [number, number] = [numbers[i], numbers[j]];
    const key = pair.join('-');
    if (!pairs.has(key) && intersectRegions([pieces[j]], [pieces[i]]).length > 0) pairs.set(key, pair);
  });
  return [...pairs.values()].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
}

/**
 * The shift and turn, without scale, that lay one set of points best on another, by least squares: a person lays the
 * film on the board by eye. Closed form: the angle is that of the summed products of the centred points.
 *
 * @param from - points to be moved, mm
 * @param to - where they should lie, mm, as many
 */
export function alignRigid(from: readonly Point[], to: readonly Point[]): Affine {
  const [fx, fy] = meanOf(from);
  const [tx, ty] = meanOf(to);
  let dot = 0;
  let cross = 0;
  from.forEach(([x, y], i) => {
    const [px, py, qx, qy] = [x - fx, y - fy, to[i][0] - tx, to[i][1] - ty];
    dot += px * qx + py * qy;
    cross += px * qy - py * qx;
  });
  const angleRad = dot === 0 && cross === 0 ? 0 : Math.atan2(cross, dot);
  const cos = Math.cos(angleRad);
  const sin = Math.sin(angleRad);
  const dx = tx - (cos * fx - sin * fy);
  const dy = ty - (sin * fx + cos * fy);
  return { a: cos, b: -sin, c: sin, d: cos, e: dx, f: dy };
}

function meanOf(points: readonly Point[]): Point {
  const mean = (axis: 0 | 1): number => points.reduce((sum, p) => sum + p[axis], 0) / Math.max(1, points.length);
  return [mean(0), mean(1)];
}

import { placeError } from '../dots/rounding.js';
import { movedShape, type PixelShape, toPixelShape, toPixelShapes } from '../dots/shape.js';
import { boxOfDots, type PlacedStamp, type Stamp } from '../dots/stamp.js';
import type { DotImage } from '../export/write.js';
import { mapPoint } from '../geometry/affine.js';
import { openingArea } from '../geometry/area.js';
import { regionBounds } from '../geometry/bounds.js';
import { ownSize } from '../geometry/oriented-box.js';
import type { Affine, Box, Opening, PerAxis, Point } from '../geometry/types.js';
import { limited } from '../geometry/work-budget.js';
import { grouped, kept, numbering } from '../kept.js';
import type { Corrected } from '../machine/correct-openings.js';
import { type ModelSource, machineModel } from '../machine/machine-model.js';
import { alignRigid, type Compared, moreArea, summarise } from '../machine/predict-cut.js';
import type { MachineModel } from '../machine/types.js';
import { tellHowFar } from '../work-watch.js';
import { joinedPairs, type Lattice, latticeOf } from './bands.js';
import type { CutFigures, Fault, FaultKind } from './faults.js';
import {
  centreOfDots,
  centreOfShapes,
  type ExpectedCut,
  expectedCut,
  isAreaOff,
  type Look,
  lookAt,
  middleOfBoxes,
  partsOfAim,
} from './look.js';

/** The centre of an opening's area or of its box lies no farther off along X and Y, in dots: half a dot is what rounding takes. */
const PLACE_DOTS = 0.75;

/** A corrected piece of less area, in dots squared, is not there. */
const NOTHING_DOTS = 1e-6;

/** What the last look before a file is written found. */
export interface CutCheck {
  /** Openings that will not come out as asked, by number. */
  readonly faults: readonly Fault[];
  /** Of dots; paths come out as corrected. */
  readonly figures?: CutFigures;
}

/** What is about to be written. */
export interface ToBeCut {
  readonly corrected: Corrected;
  /** Not given for paths. */
  readonly image?: DotImage;
  /** What the openings were corrected for, where only every n-th row of the image is burnt. */
  readonly machine?: MachineModel;
  /** Which piece of film an opening lies on, by number: each is laid on its board by itself. Undefined: the figures leave it out. */
  readonly filmOf?: (opening: number) => number | undefined;
}

/**
 * Looks at what is about to be written as the beam will make it, opening by opening, against what was asked: is each one
 * there, in one piece, with all its limbs, apart from the others, of the right size and in its place? Shapes that come
 * again are looked at once.
 *
 * @param asked - what the film shall have, mm
 * @param pitchMm - how fine to look at paths
 * @throws {InputError} TOO_MUCH
 */
export function checkCut(
  asked: readonly Opening[],
  toBeCut: ToBeCut,
  profile: ModelSource,
  pitchMm: PerAxis,
): CutCheck {
  return limited(asked, () => lookAtAll(asked, toBeCut, profile, pitchMm));
}

function lookAtAll(
  asked: readonly Opening[],
  { corrected, image, machine, filmOf = () => 0 }: ToBeCut,
  profile: ModelSource,
  pitchMm: PerAxis,
): CutCheck {
  const toPixels: Affine = image?.placement.toPixels ?? { a: 1 / pitchMm.x, b: 0, c: 0, d: -1 / pitchMm.y, e: 0, f: 0 };
  const full = machineModel(profile);
  const lattice = latticeOf(full, machine ?? full, toPixels, image?.placement.rowsPerLine ?? 1);
  const shapes = toPixelShapes(corrected.openings, toPixels);
  const pieces = new Array<readonly number[]>(asked.length).fill([]);
  corrected.numbers.forEach((number, i) => {
    const before = pieces[number - 1];
    if (shapes[i].area > NOTHING_DOTS) pieces[number - 1] = before.length > 0 ? [...before, i] : [i];
  });
  const narrow = new Set(corrected.narrow.map(({ opening }) => opening));
  const sight = new Sight(lattice);
  const seen: Seen[] = [];
  const with_ = joinedPairs(asked, pieces, shapes, image?.placed, lattice);
  const faults = asked.flatMap((opening, i): Fault[] => {
    tellHowFar('looking at what will be cut', i, asked.length);
    const own = pieces[i].map((k) => shapes[k]);
    const placed = image && pieces[i].map((k) => image.placed[k]).filter(({ stamp }) => stamp.count > 0);
    if (own.length === 0 || placed?.length === 0) return [missing(opening, i + 1)];
    const told = placed && placeErrors(own, placed);
    const look = sight.at(opening, own, placed, told?.byArea ?? [0, 0], narrow.has(i + 1));
    const off = told && placeOfCut(told, look.drift);
    const offMm = off && movedBy(off, lattice);
    const film = filmOf(i + 1);
    const at = middleOf(opening);
    if (offMm && film !== undefined) seen.push({ look, film, at, cutAt: [at[0] + offMm[0], at[1] + offMm[1]] });
    const joined = with_.get(i + 1);
    const what: FaultKind[] = [];
    if (look.parts > 1) what.push('in pieces');
    if (look.lost) what.push('part missing');
    if (image && placed?.some((one) => !isOnCanvas(one, image))) what.push('cut off');
    if (joined) what.push('joined');
    if (look.sizesOff) what.push('size');
    if (look.areaOff) what.push('area');
    if (told && off?.some((dots, k) => Math.min(Math.abs(dots), Math.abs(told.byBox[k])) > PLACE_DOTS))
      what.push('place');
    if (what.length === 0) return [];
    const { askedMm2, gotMm2, parts } = look;
    const { askedMm, gotMm } = look.sizesOff ?? look;
    return [
      {
        ...{ opening: i + 1, what, at, askedMm, gotMm, askedMm2, gotMm2 },
        ...(parts > 1 ? { parts } : {}),
        ...(look.lost ? { lost: onFilm(look.lost, at, lattice) } : {}),
        ...(joined ? { with: joined } : {}),
        ...(what.includes('place') && offMm ? { offMm } : {}),
      },
    ];
  });
  return { faults, ...(image ? { figures: figuresOf(seen) } : {}) };
}

function missing(opening: Opening, number: number): Fault {
  const [askedMm, askedMm2] = [ownSize(opening), openingArea(opening)];
  return { opening: number, what: ['missing'], at: middleOf(opening), askedMm, gotMm: [0, 0], askedMm2, gotMm2: 0 };
}

function middleOf(opening: Opening): Point {
  const { minX, minY, maxX, maxY } = regionBounds(opening);
  return [(minX + maxX) / 2, (minY + maxY) / 2];
}

const isOnCanvas = ({ stamp, column, row }: PlacedStamp, { placement }: DotImage): boolean =>
  column >= 0 && row >= 0 && column + stamp.width <= placement.widthPx && row + stamp.height <= placement.lines;

function movedBy([dx, dy]: readonly [number, number], { toFilm: { a, b, c, d } }: Lattice): [number, number] {
  return [a * dx + b * dy, c * dx + d * dy];
}

/** A box in dots from the middle of an opening, as a place and a size on the film. */
function onFilm({ minX, minY, maxX, maxY }: Box, [x, y]: Point, { toFilm: { a, b, c, d } }: Lattice): Fault['lost'] {
  const [mx, my] = [(minX + maxX) / 2, (minY + maxY) / 2];
  const [width, height] = [maxX - minX, maxY - minY];
  return {
    at: [x + a * mx + b * my, y + c * mx + d * my],
    sizeMm: [Math.abs(a) * width + Math.abs(b) * height, Math.abs(c) * width + Math.abs(d) * height],
  };
}

/** How far dots lie from what they stand for, in dots. */
interface PlaceErrors {
  /** By the centre of area. */
  readonly byArea: readonly [number, number];
  /** By the middle of the box. */
  readonly byBox: readonly [number, number];
}

/** How far what is cut lies off its place. */
const placeOfCut = ({ byArea, byBox }: PlaceErrors, drift: readonly [number, number]): [number, number] => [
  placeError(byArea[0] + drift[0], byBox[0]),
  placeError(byArea[1] + drift[1], byBox[1]),
];

function placeErrors(shapes: readonly PixelShape[], placed: readonly PlacedStamp[]): PlaceErrors {
  const between = ([x, y]: Point, [u, v]: Point): [number, number] => [u - x, v - y];
  return {
    byArea: between(centreOfShapes(shapes), centreOfDots(placed)),
    byBox: between(middleOfBoxes(shapes), middleOfBoxes(placed.map(boxOfDots))),
  };
}

/** Remembers what was seen of a shape and of the dots that stand for it, wherever they lie. */
class Sight {
  private readonly aims = new Map<PixelShape, { readonly aim: ExpectedCut; readonly looks: Map<unknown, Look> }>();
  private readonly numberOf = numbering<Stamp>();

  constructor(private readonly lattice: Lattice) {}

  at(
    asked: Opening,
    pieces: readonly PixelShape[],
    placed: readonly PlacedStamp[] | undefined,
    off: readonly [number, number],
    narrow: boolean,
  ): Look {
    const { aim, looks } = kept(this.aims, pieces[0].like ?? pieces[0], () => ({
      aim: this.aimAt(asked, pieces, narrow),
      looks: new Map<unknown, Look>(),
    }));
    const key = placed?.length === 1 ? placed[0].stamp : placed && this.keyOf(placed);
    return kept(looks, key, () => (placed ? this.lookAtDots(aim, pieces, placed, off) : this.lookAtPaths(aim)));
  }

  /** In dots about the middle of the opening's box: numbers stay small, and what is seen holds for every copy. */
  private aimAt(asked: Opening, pieces: readonly PixelShape[], narrow: boolean): ExpectedCut {
    const { toDots } = this.lattice;
    const [x, y] = mapPoint(toDots, middleOf(asked));
    const drawn = (): PixelShape => toPixelShape(asked, { ...toDots, e: toDots.e - x, f: toDots.f - y });
    return expectedCut(
      asked,
      drawn,
      pieces.map((piece) => movedShape(piece, -x, -y)),
      narrow,
      this.lattice,
    );
  }

  private lookAtDots(
    aim: ExpectedCut,
    pieces: readonly PixelShape[],
    placed: readonly PlacedStamp[],
    [offX, offY]: readonly [number, number],
  ): Look {
    const dx = aim.pieces[0].minX - pieces[0].minX - offX;
    const dy = aim.pieces[0].minY - pieces[0].minY - offY;
    const moved = placed.map(({ stamp, column, row }) => ({ stamp, column: column + dx, row: row + dy }));
    return lookAt(aim, moved, this.lattice);
  }

  private lookAtPaths(aim: ExpectedCut): Look {
    const { extents, askedMm2, lost } = aim;
    const { askedMm, gotMm } = extents[0];
    const parts = partsOfAim(aim, this.lattice);
    const area = aim.area();
    return {
      askedMm,
      gotMm,
      aimedMm: gotMm,
      askedMm2,
      gotMm2: area * this.lattice.dotMm2,
      areaOff: isAreaOff(area, aim, this.lattice),
      drift: [0, 0],
      parts,
      ...(lost ? { lost } : {}),
    };
  }

  /** The same for the same stamps that lie alike to each other. */
  private keyOf(placed: readonly PlacedStamp[]): string {
    const [{ column, row }] = placed;
    return placed.map((one) => `${this.numberOf(one.stamp)} ${one.column - column} ${one.row - row}`).join();
  }
}

/** What was seen of an opening that is there, on which film, and how far it lies off its place on that, mm. */
interface Seen {
  readonly look: Look;
  readonly film: number;
  readonly at: Point;
  readonly cutAt: Point;
}

function figuresOf(seen: readonly Seen[]): CutFigures {
  const all = [...grouped(seen, ({ film }) => film).values()].flatMap(laidOnBoard);
  const { rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm, meanAreaErrorPercent, ...places } = summarise(all);
  return {
    ...{ rmsWidthErrorMm, meanWidthErrorMm, maxWidthErrorMm },
    maxTipLossMm: seen.reduce((most, { look }) => Math.max(most, tipLoss(look, 0), tipLoss(look, 1)), 0),
    meanAreaErrorPercent,
    maxAreaErrorPercent: all.reduce((most, one) => Math.max(most, Math.abs(moreArea(one))), 0),
    rmsPlaceErrorMm: places.rmsPositionErrorMm,
    maxPlaceErrorMm: places.maxPositionErrorMm,
  };
}

const tipLoss = ({ askedMm, gotMm, aimedMm }: Look, axis: 0 | 1): number =>
  Math.min(askedMm[axis] - gotMm[axis], askedMm[axis] - aimedMm[axis]);

/** Openings of one film once that is laid on the board as well as can be, as in a prediction. */
function laidOnBoard(film: readonly Seen[]): Compared[] {
  const laid = alignRigid(
    film.map(({ cutAt }) => cutAt),
    film.map(({ at }) => at),
  );
  return film.map(({ look: { askedMm, gotMm, askedMm2, gotMm2 }, at, cutAt }) => {
    const [x, y] = mapPoint(laid, cutAt);
    return {
      askedWidthMm: askedMm[0],
      askedHeightMm: askedMm[1],
      cutWidthMm: gotMm[0],
      cutHeightMm: gotMm[1],
      askedAreaMm2: askedMm2,
      cutAreaMm2: gotMm2,
      dxMm: x - at[0],
      dyMm: y - at[1],
    };
  });
}

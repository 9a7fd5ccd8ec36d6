import { FRAME_DOTS } from '../dots/rounding.js';
import { movedShape, type PixelShape, toPixelShape, toPixelShapes } from '../dots/shape.js';
import { boxOfDots, type PlacedStamp, type Stamp } from '../dots/stamp.js';
import type { DotImage } from '../export/write.js';
import { mapPoint } from '../geometry/affine.js';
import { openingArea } from '../geometry/area.js';
import { joinBoxes, regionBounds } from '../geometry/bounds.js';
import { ownSize } from '../geometry/oriented-box.js';
import type { Affine, Box, Opening, PerAxis, Point } from '../geometry/types.js';
import { limited } from '../geometry/work-budget.js';
import { kept } from '../kept.js';
import type { Corrected } from '../machine/correct-openings.js';
import { type ModelSource, machineModel } from '../machine/machine-model.js';
import { alignRigid } from '../machine/predict-cut.js';
import type { MachineModel } from '../machine/types.js';
import { tellHowFar } from '../work-watch.js';
import { type DotBox, joinedPairs } from './bands.js';
import type { CutFigures, Fault, FaultKind } from './faults.js';
import { type Lattice, latticeOf } from './lattice.js';
import { type ExpectedCut, expectedCut, isAreaOff, type Look, lookAt, partsOfAim } from './look.js';

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
  const tally = new Tally();
  const with_ = joinedPairs(asked, pieces, shapes, image?.placed, lattice);
  const faults = asked.flatMap((opening, i): Fault[] => {
    tellHowFar('looking at what will be cut', i, asked.length);
    const own = pieces[i].map((k) => shapes[k]);
    const placed = image && pieces[i].map((k) => image.placed[k]).filter(({ stamp }) => stamp.count > 0);
    if (own.length === 0 || placed?.length === 0) return [missing(opening, i + 1)];
    const told = placed && placeError(own, placed);
    const look = sight.at(opening, own, placed, told?.byArea ?? [0, 0], narrow.has(i + 1));
    const off = told && placeOfCut(told, look.drift);
    const offMm = off && movedBy(off, lattice);
    const film = filmOf(i + 1);
    if (offMm && film !== undefined) tally.take(look, film, middleOf(opening), offMm);
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
        ...{ opening: i + 1, what, at: middleOf(opening), askedMm, gotMm, askedMm2, gotMm2 },
        ...(parts > 1 ? { parts } : {}),
        ...(look.lost ? { lost: onFilm(look.lost, middleOf(opening), lattice) } : {}),
        ...(joined ? { with: joined } : {}),
        ...(what.includes('place') && offMm ? { offMm } : {}),
      },
    ];
  });
  return { faults, ...(image ? { figures: tally.figures() } : {}) };
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
function onFilm({ minX, minY, maxX, maxY }: DotBox, [x, y]: Point, { toFilm: { a, b, c, d } }: Lattice): Fault['lost'] {
  const [mx, my] = [(minX + maxX) / 2, (minY + maxY) / 2];
  const [width, height] = [maxX - minX, maxY - minY];
  return {
    at: [x + a * mx + b * my, y + c * mx + d * my],
    sizeMm: [Math.abs(a) * width + Math.abs(b) * height, Math.abs(c) * width + Math.abs(d) * height],
  };
}

/** How far dots lie from what they stand for, in dots. */
interface PlaceError {
  /** By the centre of area. */
  readonly byArea: readonly [number, number];
  /** By the middle of the box. */
  readonly byBox: readonly [number, number];
}

/** How far what is cut lies off its place: by the centre of its area, or by the box where that says nothing, as of frames. */
function placeOfCut({ byArea, byBox }: PlaceError, drift: readonly [number, number]): [number, number] {
  const nearer = (ofArea: number, ofBox: number): number =>
    Math.abs(ofArea) > FRAME_DOTS && Math.abs(ofBox) < Math.abs(ofArea) ? ofBox : ofArea;
  return [nearer(byArea[0] + drift[0], byBox[0]), nearer(byArea[1] + drift[1], byBox[1])];
}

function placeError(shapes: readonly PixelShape[], placed: readonly PlacedStamp[]): PlaceError {
  let area = 0;
  let areaX = 0;
  let areaY = 0;
  for (const shape of shapes) {
    area += shape.area;
    areaX += shape.centreX * shape.area;
    areaY += shape.centreY * shape.area;
  }
  let dots = 0;
  let dotsX = 0;
  let dotsY = 0;
  for (const { stamp, column, row } of placed) {
    dots += stamp.count;
    dotsX += (column + stamp.centreX) * stamp.count;
    dotsY += (row + stamp.centreY) * stamp.count;
  }
  const box = shapes.reduce<Box>(joinBoxes, shapes[0]);
  const ofDots = placed.map(boxOfDots).reduce(joinBoxes);
  return {
    byArea: [dotsX / dots - areaX / (area || 1), dotsY / dots - areaY / (area || 1)],
    byBox: [
      (ofDots.minX + ofDots.maxX - box.minX - box.maxX) / 2,
      (ofDots.minY + ofDots.maxY - box.minY - box.maxY) / 2,
    ],
  };
}

/** Remembers what was seen of a shape and of the dots that stand for it, wherever they lie. */
class Sight {
  private readonly aims = new Map<PixelShape, { readonly aim: ExpectedCut; readonly looks: Map<unknown, Look> }>();
  private readonly stamps = new Map<Stamp, number>();

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
    const idOf = (stamp: Stamp): number => kept(this.stamps, stamp, () => this.stamps.size);
    return placed.map((one) => `${idOf(one.stamp)} ${one.column - column} ${one.row - row}`).join();
  }
}

/** Adds up how far openings are off. */
class Tally {
  private count = 0;
  private width = 0;
  private width2 = 0;
  private widest = 0;
  private tips = 0;
  private area = 0;
  private mostArea = 0;
  private readonly films = new Map<number, { readonly asked: number[]; readonly cut: number[] }>();

  take(
    { askedMm, gotMm, aimedMm, askedMm2, gotMm2 }: Look,
    film: number,
    [x, y]: Point,
    [dx, dy]: readonly [number, number],
  ): void {
    this.count += 1;
    for (const axis of [0, 1]) {
      const error = gotMm[axis] - askedMm[axis];
      this.width += error;
      this.width2 += error * error;
      this.widest = Math.max(this.widest, Math.abs(error));
      this.tips = Math.max(this.tips, Math.min(-error, askedMm[axis] - aimedMm[axis]));
    }
    const percent = askedMm2 > 0 ? (100 * (gotMm2 - askedMm2)) / askedMm2 : 0;
    this.area += percent;
    this.mostArea = Math.max(this.mostArea, Math.abs(percent));
    const { asked, cut } = kept(this.films, film, () => ({ asked: [], cut: [] }));
    asked.push(x, y);
    cut.push(x + dx, y + dy);
  }

  figures(): CutFigures {
    const n = Math.max(1, this.count);
    const places = [...this.films.values()].flatMap(placesOff);
    return {
      rmsWidthErrorMm: Math.sqrt(this.width2 / (2 * n)),
      meanWidthErrorMm: this.width / (2 * n),
      maxWidthErrorMm: this.widest,
      maxTipLossMm: this.tips,
      meanAreaErrorPercent: this.area / n,
      maxAreaErrorPercent: this.mostArea,
      rmsPlaceErrorMm: Math.sqrt(places.reduce((sum, off) => sum + off * off, 0) / n),
      maxPlaceErrorMm: places.reduce((most, off) => Math.max(most, off), 0),
    };
  }
}

/** How far places lie off once the film is laid on the board as well as can be, as in a prediction. */
function placesOff({ asked, cut }: { readonly asked: readonly number[]; readonly cut: readonly number[] }): number[] {
  const laid = alignRigid(Float64Array.from(cut), Float64Array.from(asked));
  return Array.from({ length: cut.length / 2 }, (_, i) => {
    const [x, y] = mapPoint(laid, [cut[2 * i], cut[2 * i + 1]]);
    return Math.hypot(x - asked[2 * i], y - asked[2 * i + 1]);
  });
}

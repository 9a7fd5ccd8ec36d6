import { InputError, type Warning } from '../errors.js';
import { invert, mapPoint, shapeMapper } from '../geometry/affine.js';
import { openingArea } from '../geometry/area.js';
import { subtractRegions, unionRegions } from '../geometry/boolean.js';
import { regionBounds } from '../geometry/bounds.js';
import { cleanOpenings, requireOpenings } from '../geometry/clean.js';
import { copyAt, markClean } from '../geometry/copies.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { orientedBox } from '../geometry/oriented-box.js';
import { ShapeCache } from '../geometry/shape-cache.js';
import type { Affine, Opening, PerAxis, Point, Region, Ring } from '../geometry/types.js';
import { fartherThan, wallsOf, webBetween } from '../geometry/walls.js';
import { budgetInForce, limited } from '../geometry/work-budget.js';
import { aboveZero, checkGiven, either, objectOf, type Want, zeroOrMore } from '../given.js';
import { oneOrMany } from '../text.js';
import { tellHowFar } from '../work-watch.js';
import { bendsLeftOut, type ModelSource, machineMap, machineModel } from './machine-model.js';
import { erode, joined, type LineWidth, outToTheEnds, type ThinLine, thinLine } from './thin-line.js';
import type { MachineModel } from './types.js';

export interface CorrectOptions {
  /** Thinnest line that the machine can be told, commanded mm: its pitch. Default 0.0254. */
  readonly lineMm?: number | PerAxis;
  /**
   * An opening whose top the shear would move against its bottom by less than this, commanded mm, keeps its upright
   * sides; only its place is sheared. For dots: a third of one, or straight walls would turn into ragged ones. Default 0.
   */
  readonly uprightBelowMm?: number;
}

const CORRECT_OPTIONS: { readonly [key in keyof CorrectOptions]-?: Want } = {
  lineMm: either(aboveZero, objectOf({ x: aboveZero, y: aboveZero })),
  uprightBelowMm: zeroOrMore,
};

/** One dot at 1000 dpi, for callers who name no pitch. */
export const DEFAULT_LINE_MM = 0.0254;

/** A part of an opening that is narrower than the kerf: it is kept as the thinnest line and comes out wider than asked. */
export interface NarrowPart {
  /** Number of the opening in the artwork, from 1. */
  readonly opening: number;
  readonly extent: 'whole' | 'part';
  /** Centre of the part on the finished film, mm. */
  readonly at: Point;
  /** As the part lies: the side nearer to X first. */
  readonly askedMm: readonly [width: number, height: number];
  readonly comesOutMm: readonly [width: number, height: number];
}

export interface Corrected {
  /** What to tell the machine, commanded mm. */
  readonly openings: readonly Opening[];
  /** For each of `openings`, the number in the artwork (from 1) of the opening that it makes. */
  readonly numbers: readonly number[];
  readonly narrow: readonly NarrowPart[];
  readonly warnings: readonly Warning[];
}

interface Piecewise {
  readonly pieces: readonly Region[];
  readonly lines: readonly { readonly line: ThinLine; readonly extent: 'whole' | 'part' }[];
}

/**
 * Corrects openings for a machine: correct(T) = A⁻¹·(T ⊖ E), so that what is burnt is T with its corners rounded by
 * half a kerf. Parts narrower than the kerf can't come back; each is kept as the thinnest line and listed.
 *
 * @param openings - what the film shall have, mm
 * @param profile - a profile, a fit's result, or the five numbers themselves
 * @returns commanded openings, which opening each belongs to, and the narrow parts
 * @throws {InputError} TOO_MUCH for openings that take more than all reason; BAD_OPENING; NOT_A_PROFILE, BAD_MODEL when the five numbers are missing or can't be those of a machine
 * @example correctOpenings([{ outer: [[0, 0], [1, 0], [1, 1], [0, 1]], islands: [] }], profile).openings
 */
export function correctOpenings(
  openings: readonly Opening[],
  profile: ModelSource,
  options: CorrectOptions = {},
): Corrected {
  checkGiven('options', options, CORRECT_OPTIONS);
  requireOpenings(openings);
  const correct = corrector(profile, options.lineMm);
  return limited(openings, () => {
    const { openings: clean, warnings } = cleanOpenings(openings);
    const corrected = correct(clean, options.uprightBelowMm);
    return { ...corrected, warnings: [...warnings, ...bendsLeftOut(profile), ...corrected.warnings] };
  });
}

/** Corrects openings for one machine; shapes that several calls have in common are worked out once. */
export type Corrector = (openings: readonly Opening[], uprightBelowMm?: number) => Corrected;

/** What {@link correctOpenings} does, with a memory of its own. */
export function corrector(profile: ModelSource, lineMm: CorrectOptions['lineMm'] = DEFAULT_LINE_MM): Corrector {
  const model = machineModel(profile);
  const inverse = invert(machineMap(model));
  const line = typeof lineMm === 'number' ? { x: lineMm, y: lineMm } : lineMm;
  const onFilm = { x: line.x * model.scaleX, y: line.y * model.scaleY };
  const cache = new ShapeCache((region) => paidFor(correctShape(region, model, onFilm)));
  return (openings, uprightBelowMm = 0) => limited(openings, () => placeAll(openings, cache, inverse, uprightBelowMm));
}

/** What a corner of a corrected shape costs later, when it becomes dots and files, in the units of `WorkBudget`. */
const TOLD_CORNER = 60;

function paidFor(shape: Piecewise): Piecewise {
  const corners = shape.pieces.map(markClean).reduce((sum, piece) => sum + cornersOf(piece), 0);
  budgetInForce()?.spend(TOLD_CORNER * corners);
  return shape;
}

const cornersOf = ({ outer, islands }: Region): number =>
  islands.reduce((sum, { length }) => sum + length, outer.length);

function placeAll(
  openings: readonly Opening[],
  cache: ShapeCache<Piecewise>,
  inverse: Affine,
  uprightBelowMm: number,
): Corrected {
  const [leaning, upright] = [inverse, { ...inverse, b: 0 }].map(shapeMapper);
  const corrected: Opening[] = [];
  const numbers: number[] = [];
  const narrow: NarrowPart[] = [];
  openings.forEach((opening, index) => {
    tellHowFar('correcting', index, openings.length);
    const { result, at } = naming(index + 1, opening, () => cache.get(opening));
    const map = placeOf(opening, inverse, uprightBelowMm);
    const turned = map.b === 0 ? upright : leaning;
    const [x, y] = mapPoint(map, at);
    for (const piece of result.pieces) {
      corrected.push(copyAt(turned(piece), x, y, opening.tag));
      numbers.push(index + 1);
    }
    for (const { line: thin, extent } of result.lines) {
      narrow.push({
        opening: index + 1,
        extent,
        at: [thin.at[0] + at[0], thin.at[1] + at[1]],
        askedMm: thin.askedMm,
        comesOutMm: thin.comesOutMm,
      });
    }
  });
  return { openings: corrected, numbers, narrow, warnings: narrowWarnings(narrow) };
}

/** Says which opening was being worked on when there was too much to do. */
function naming<T>(number: number, opening: Opening, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (!(error instanceof InputError && error.code === 'TOO_MUCH')) throw error;
    const { minX, minY } = regionBounds(opening);
    const problem = {
      code: 'TOO_MUCH',
      message: `the openings are too tangled to be corrected; the work ended at opening ${number} at ${minX.toFixed(2)}, ${minY.toFixed(2)} mm, which has ${cornersOf(opening)} corners and ${opening.islands.length} islands of film.`,
      hint: 'No paste layer needs that; check that this is the right file.',
    };
    throw new InputError(problem, { cause: error });
  }
}

/** The inverse map for one opening; without shear inside it, but in the right place, where that shear is too small to matter. */
function placeOf(opening: Opening, inverse: Affine, uprightBelowMm: number): Affine {
  const { minY, maxY } = regionBounds(opening);
  if (inverse.b === 0 || Math.abs(inverse.b) * (maxY - minY) >= uprightBelowMm) return inverse;
  return { ...inverse, b: 0, e: inverse.b * ((minY + maxY) / 2) };
}

/** A command that is narrower than this is as good as none, mm: an opening exactly as wide as the kerf leaves one. */
const NOTHING_MM = 1e-3;

function correctShape(region: Region, model: MachineModel, line: LineWidth): Piecewise {
  const { kerfXMm, kerfYMm } = model;
  if (kerfXMm <= 0 && kerfYMm <= 0) return { pieces: [region], lines: [] };
  const pieces = erode(region, kerfXMm, kerfYMm).filter(isSomething);
  if (pieces.length === 0) return asLine(region, model, line);
  if (kerfXMm <= 0 || kerfYMm <= 0) return { pieces, lines: [] };
  const lines = lostLines(region, pieces, model, line);
  const commanded = [...pieces, ...lines.flatMap((one) => one.pieces)];
  return {
    pieces: joined([...commanded, ...outToTheEnds(region, commanded, model, line)], line),
    lines: lines.map((one) => ({ line: one, extent: 'part' as const })),
  };
}

function isSomething({ outer }: Region): boolean {
  const { widthMm, heightMm } = orientedBox(outer);
  return Math.min(widthMm, heightMm) >= NOTHING_MM;
}

function asLine(region: Region, model: MachineModel, line: LineWidth): Piecewise {
  const thin = thinLine(region, model, line);
  return { pieces: joined(thin.pieces, line), lines: [{ line: thin, extent: 'whole' }] };
}

/** Lines for the parts of a region that do not come back. */
function lostLines(region: Region, pieces: readonly Region[], model: MachineModel, line: LineWidth): ThinLine[] {
  const { kerfXMm, kerfYMm } = model;
  const whole = pieces.length === 1 && region.islands.length + pieces[0].islands.length === 0;
  if (whole && losesCornersAlone(region.outer, pieces[0].outer, model)) return [];
  const comesBack = pieces.flatMap((piece) => offsetByEllipse(piece, kerfXMm, kerfYMm, 1));
  return lostParts(region, comesBack, model).map((lost) => thinLine(lost, model, line));
}

function narrowWarnings(narrow: readonly NarrowPart[]): Warning[] {
  if (narrow.length === 0) return [];
  const numbers = [...new Set(narrow.map((part) => part.opening))];
  return [
    {
      code: 'NARROWER_THAN_KERF',
      message: `${oneOrMany(numbers.length, 'opening has', 'openings have')} parts narrower than the kerf; they are kept as the thinnest line and come out wider than asked.`,
      hint: 'Widen them in the artwork, find a setting with a smaller kerf, or check the list of what they come out as.',
      openings: numbers,
    },
  ];
}

type Kerf = Pick<MachineModel, 'kerfXMm' | 'kerfYMm'>;

/**
 * Slivers of rounding hang corners together that lie a whole wall apart: what is thinner than this is not there, mm. A
 * fortieth of a dot at 1000 dpi.
 */
const SLIVER_MM = 1e-3;

/** Of the wider kerf squared: more than what is lost at a corner of 60 degrees, whichever way it is turned. */
const PART_AREA_SHARE = 0.5;

/** Of a small opening, a part that reaches beyond what comes back by this share of its size counts. */
const REACH_SHARE = 0.04;

/**
 * How deep the beam rounds a corner of 60 degrees at most, whichever way it is turned: towards the narrower kerf its
 * middle stays sqrt(3 kx² + ky²) / 2 away, and it reaches half the narrower kerf from there.
 */
const sixtyDepth = (most: number, least: number): number => (Math.sqrt(3 * most * most + least * least) - least) / 2;

/**
 * The same for a right corner: the middle stays hypot(kx, ky) / 2 away (the orthoptic circle of an ellipse).
 */
const rightDepth = (most: number, least: number): number => (Math.hypot(most, least) - least) / 2;

/**
 * The parts of a region that do not come back: limbs narrower than the kerf, and long tips alike. A part is told from a
 * mere corner by how deep it reaches beyond what comes back; the corners that every beam rounds are none.
 *
 * @param comesBack - the region opened by the beam
 */
export function lostParts(region: Region, comesBack: readonly Region[], kerf: Kerf): Region[] {
  const most = Math.max(kerf.kerfXMm, kerf.kerfYMm);
  const corner = sixtyDepth(most, Math.min(kerf.kerfXMm, kerf.kerfYMm)) + 2 * SLIVER_MM;
  const deep = Math.max(corner, Math.min(most, REACH_SHARE * diagonal(region)));
  // What comes back in pieces hung together by necks, however short and thin.
  const pieces = comesBack.length > 1 ? unionRegions(comesBack) : comesBack;
  const isNeck = (part: Region): boolean =>
    pieces.length > 1 && pieces.filter((piece) => webBetween(part, piece, 3 * SLIVER_MM)).length > 1;
  const isLarge = (part: Region): boolean => openingArea(part) > PART_AREA_SHARE * most * most;
  const mayBePart = (lost: Region): boolean => diagonal(lost) > deep || isLarge(lost) || isNeck(lost);
  return subtractRegions([region], comesBack)
    .filter(mayBePart)
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, -1))
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, 1))
    .filter((part) => mayBePart(part) && (isLarge(part) || isNeck(part) || reachesBeyond(deep, part, comesBack)));
}

function diagonal(region: Region): number {
  const { minX, minY, maxX, maxY } = regionBounds(region);
  return Math.hypot(maxX - minX, maxY - minY);
}

/** What a look at a corner and a wall costs, in the units of `WorkBudget`. */
const LOOK_COST = 2;

/** Whether a lost part reaches further beyond what comes back than a depth. */
function reachesBeyond(depthMm: number, part: Region, comesBack: readonly Region[]): boolean {
  const corners = [part.outer, ...part.islands].flat();
  return fartherThan(depthMm, regionBounds(part), corners, comesBack.map(wallsOf)).length > 0;
}

/**
 * Whether an outline around which nothing falls apart can have lost no more than corners: no corner of it lies deeper
 * beyond what comes back than a right one, so no limb does. Quick, and on the safe side.
 */
export function losesCornersAlone(outline: Ring, smaller: Ring, kerf: Kerf): boolean {
  const { kerfXMm, kerfYMm } = kerf;
  const deep = rightDepth(Math.max(kerfXMm, kerfYMm), Math.min(kerfXMm, kerfYMm)) + SLIVER_MM;
  const [rx, ry] = [kerf.kerfXMm / 2, kerf.kerfYMm / 2];
  const isNear = ([x, y]: Point, [cx, cy]: Point): boolean => {
    const [dx, dy] = [x - cx, y - cy];
    const far = Math.hypot(dx, dy);
    // The beam's edge in that direction lies at the share 1 / norm of the way.
    const norm = Math.hypot(dx / rx, dy / ry);
    return far - far / norm <= deep;
  };
  const count = smaller.length;
  let at = 0;
  return outline.every((corner, k) => {
    if (isStraight(outline.at(k - 1) as Point, corner, outline[(k + 1) % outline.length])) return true;
    // Both run the same way round: the next corner's is the last one's, or beside it.
    for (let looked = 0; looked <= count >> 1; looked += 1) {
      for (const i of [(at + looked) % count, (at - looked + count) % count]) {
        if (!isNear(corner, smaller[i])) continue;
        budgetInForce()?.spend(LOOK_COST * (looked + 1));
        at = i;
        return true;
      }
    }
    budgetInForce()?.spend(LOOK_COST * count);
    return false;
  });
}

/** Corners that turn by less, as sine, lie along a wall, where what is drawn in has none. */
const STRAIGHT = 1e-6;

function isStraight([ax, ay]: Point, [bx, by]: Point, [cx, cy]: Point): boolean {
  const [ux, uy, vx, vy] = [bx - ax, by - ay, cx - bx, cy - by];
  return Math.abs(ux * vy - uy * vx) <= STRAIGHT * Math.hypot(ux, uy) * Math.hypot(vx, vy) && ux * vx + uy * vy > 0;
}

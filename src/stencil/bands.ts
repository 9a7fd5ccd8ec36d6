import type { PixelShape } from '../dots/shape.js';
import { boxOfDots, crossingsOf, eachRun, type PlacedStamp, type Stamp } from '../dots/stamp.js';
import { composeMaps, invert } from '../geometry/affine.js';
import { joinBoxes } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { DisjointSets } from '../geometry/disjoint-sets.js';
import type { Affine, Box, Opening } from '../geometry/types.js';
import { nearestBetween, wallsOf } from '../geometry/walls.js';
import { budgetInForce } from '../geometry/work-budget.js';
import { kept, listIn, numbering } from '../kept.js';
import { machineMap } from '../machine/machine-model.js';
import type { MachineModel } from '../machine/types.js';

/** The dots as they lie on the film. */
export interface Lattice {
  /** What widens the shapes that dots stand for. */
  readonly model: MachineModel;
  /** What widens the dots: the same, or where a row of dots is several of which one is burnt, as much more as film is left. */
  readonly burning: { readonly model: MachineModel; readonly beam: BeamShape };
  /** From film mm to dots: column to the right, row down. */
  readonly toDots: Affine;
  readonly toFilm: Affine;
  /** What the beam adds around a shape. */
  readonly beam: BeamShape;
  /** Area of a dot on the film, mm². */
  readonly dotMm2: number;
}

/**
 * @param full - the machine
 * @param model - the same, or what is left of its kerf where rows are apart
 * @param toPixels - from commanded mm to dots
 * @param rowsPerLine - how many rows of the image a row of dots is
 */
export function latticeOf(full: MachineModel, model: MachineModel, toPixels: Affine, rowsPerLine: number): Lattice {
  const toDots = composeMaps(toPixels, invert(machineMap(model)));
  const toFilm = invert(toDots);
  const { a, b, c, d, e, f } = toFilm;
  return {
    model,
    burning: { model: full, beam: { ...beamOf(full, toDots), filmDots: (1 - 1 / rowsPerLine) / 2 } },
    toDots,
    toFilm: { a, b, c, d, e, f },
    beam: beamOf(model, toDots),
    dotMm2: Math.abs(a * d - b * c),
  };
}

/** The kerf's ellipse in dots, cut by level lines. */
function beamOf({ kerfXMm, kerfYMm }: MachineModel, { a, b, c, d }: Affine): BeamShape {
  const [ax, ay, bx, by] = [(a * kerfXMm) / 2, (c * kerfXMm) / 2, (b * kerfYMm) / 2, (d * kerfYMm) / 2];
  const halfHeight = Math.hypot(ay, by);
  if (halfHeight === 0) return { halfWidth: Math.hypot(ax, bx), halfHeight, lean: 0, filmDots: 0 };
  return {
    halfWidth: Math.abs(ax * by - bx * ay) / halfHeight,
    halfHeight,
    lean: (ax * ay + bx * by) / halfHeight ** 2,
    filmDots: 0,
  };
}

/** A reach that is so many times as far, and so many dots more. */
export function farther(beam: BeamShape, times: number, dots: number): BeamShape {
  return { ...beam, halfWidth: beam.halfWidth * times + dots, halfHeight: beam.halfHeight * times + dots };
}

/** The beam, or a tolerance, in dots: an ellipse that may lean as shear makes it. */
export interface BeamShape {
  readonly halfWidth: number;
  readonly halfHeight: number;
  /** How far its middle moves to the right a dot further down. */
  readonly lean: number;
  /** Of rows of dots: so much of each is film at its upper edge, and as much at its lower one. */
  readonly filmDots: number;
}

/** A level line within a dot, and how much of the dot's height it stands for. */
interface Line {
  readonly at: number;
  readonly weight: number;
}

/** Gauss and Legendre's three lines for an interval from 0 to 1. */
const GAUSS: readonly Line[] = [
  { at: 0.5 - Math.sqrt(0.15), weight: 5 / 18 },
  { at: 0.5, weight: 4 / 9 },
  { at: 0.5 + Math.sqrt(0.15), weight: 5 / 18 },
];

/**
 * Lines within a step of height along which the area of grown steps is summed up: what is burnt begins and ends where a
 * step's edge lies a beam away, and is smooth in between.
 */
function linesWithin(step: number, { halfHeight, filmDots }: BeamShape): Line[] {
  const beyond = halfHeight - filmDots;
  const part = beyond - Math.floor(beyond / step) * step;
  const cuts = [0, filmDots, part, step - part, step - filmDots, step].sort((p, q) => p - q);
  return cuts.slice(1).flatMap((to, i) => {
    const [from, height] = [cuts[i], to - cuts[i]];
    return height > 1e-9 ? GAUSS.map(({ at, weight }) => ({ at: from + at * height, weight: weight * height })) : [];
  });
}

/**
 * A shape cut into level bands of equal height, in dots, y down. Each band holds the stretches that belong to the shape,
 * start and end in turn, ascending and apart. Dots are bands exactly; other shapes are taken along the middle of each.
 */
export interface Bands {
  /** Upper edge of the first band. */
  readonly top: number;
  readonly step: number;
  readonly rows: readonly (readonly number[])[];
}

/** Bands a dot: 0.006 mm at 1000 dpi. */
const PER_DOT = 4;
/** Height of a fine band, dots: nearer than that they say nothing. */
const STEP = 1 / PER_DOT;

/** Stretches that overlap or touch become one. */
function merged(stretches: number[]): number[] {
  if (stretches.length <= 2) return stretches;
  const order = Array.from({ length: stretches.length / 2 }, (_, i) => 2 * i);
  order.sort((p, q) => stretches[p] - stretches[q]);
  const row: number[] = [];
  for (const at of order) addTo(row, stretches[at], stretches[at + 1]);
  return row;
}

/** Adds a stretch; where it overlaps or touches the last one, that grows. */
function addTo(row: number[], from: number, to: number): void {
  const last = row.length - 2;
  if (last < 0 || from > row[last + 1] || to < row[last]) row.push(from, to);
  else {
    if (from < row[last]) row[last] = from;
    if (to > row[last + 1]) row[last + 1] = to;
  }
}

/** Dots as bands; those of several stamps together. */
export function bandsOfDots(placed: readonly PlacedStamp[], dx = 0, dy = 0): Bands {
  const full = placed.filter(({ stamp }) => stamp.count > 0);
  if (full.length === 0) return { top: 0, step: 1, rows: [] };
  const top = Math.min(...full.map(({ row }) => row));
  const bottom = Math.max(...full.map(({ row, stamp }) => row + stamp.height));
  const rows: number[][] = Array.from({ length: bottom - top }, () => []);
  for (const { stamp, column, row } of full) {
    eachRun(stamp.rows, (from, to, r) => addTo(rows[row - top + r], from + column + dx, to + column + dx));
  }
  return { top: top + dy, step: 1, rows: rows.map(merged) };
}

/** Closed walls (x0, y0, x1, y1, …) as bands, by the even-odd rule. */
export function bandsOfWalls(walls: Float64Array): Bands {
  const { first, rows } = crossingsOf(walls, PER_DOT);
  return { top: first * STEP, step: STEP, rows };
}

/** What a shape becomes when every point of it grows by a reach: the Minkowski sum, in fine bands. */
export function grown(bands: Bands, reach: BeamShape): Bands {
  const { top, step, rows } = bands;
  const { halfHeight } = reach;
  if (rows.length === 0) return { top, step: STEP, rows: [] };
  const first = Math.floor((top - halfHeight) * PER_DOT);
  const last = Math.ceil((top + rows.length * step + halfHeight) * PER_DOT);
  const result: number[][] = [];
  for (let k = first; k < last; k += 1) result.push(grownAlong((k + 0.5) * STEP, bands, reach));
  return { top: first * STEP, step: STEP, rows: result };
}

/** What a stretch costs that is laid on a level line, in the units of `WorkBudget`. */
const STRETCH = 2;

/** Where a level line crosses a grown shape. */
function grownAlong(y: number, { top, step, rows }: Bands, beam: BeamShape): number[] {
  const { halfWidth, halfHeight, lean, filmDots } = beam;
  const from = Math.max(0, Math.floor((y - halfHeight - top) / step));
  const to = Math.min(rows.length, Math.ceil((y + halfHeight - top) / step));
  const stretches: number[] = [];
  for (let r = from; r < to; r += 1) {
    const above = top + r * step + filmDots;
    const dy = y < above ? y - above : Math.max(0, y - above - step + 2 * filmDots);
    if (Math.abs(dy) > halfHeight) continue;
    const share = halfHeight > 0 ? dy / halfHeight : 0;
    const reach = halfWidth * Math.sqrt(1 - share * share);
    const shift = lean * dy;
    const row = rows[r];
    for (let i = 0; i < row.length; i += 2) addTo(stretches, row[i] + shift - reach, row[i + 1] + shift + reach);
  }
  budgetInForce()?.spend(STRETCH * (1 + stretches.length / 2));
  return merged(stretches);
}

/** Area of a grown shape, dots squared: nearer than that of its fine bands. */
export function grownArea(bands: Bands, reach: BeamShape): number {
  const { top, step, rows } = bands;
  const near = Math.ceil(reach.halfHeight / step);
  let area = 0;
  for (const { at, weight } of linesWithin(step, reach)) {
    for (let k = -near; k < rows.length + near; k += 1)
      area += weight * lengthOf(grownAlong(top + k * step + at, bands, reach));
  }
  return area;
}

/** Centre of area of a shape in bands. */
export function centreOfBands({ top, step, rows }: Bands): [number, number] {
  let [sumX, sumY, all] = [0, 0, 0];
  rows.forEach((row, k) => {
    for (let i = 0; i < row.length; i += 2) {
      const length = row[i + 1] - row[i];
      sumX += (length * (row[i] + row[i + 1])) / 2;
      sumY += length * (top + (k + 0.5) * step);
      all += length;
    }
  });
  return [sumX / all, sumY / all];
}

function lengthOf(row: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < row.length; i += 2) sum += row[i + 1] - row[i];
  return sum;
}

/** Stretches shorter than this, in dots, are noise of numbers. */
const NOISE = 1e-3;

/** A part of less area than this, dots squared, is the tip of a corner or a sliver along a wall. */
const TIP_AREA = 0.5;

/** Box of the largest connected part of a shape that another one does not cover; undefined when only tips are left. Both in fine bands. */
export function uncovered(shape: Bands, cover: Bands, leastArea = TIP_AREA): Box | undefined {
  const offset = Math.round((shape.top - cover.top) * PER_DOT);
  const rows = shape.rows.map((row, k) => gaps(row, cover.rows[k + offset] ?? []));
  const [worst] = partsOf({ top: shape.top, step: STEP, rows }).sort((p, q) => q.area - p.area);
  return worst?.area >= leastArea ? worst.box : undefined;
}

/** What of a level line another one does not cover. */
function gaps(row: readonly number[], cover: readonly number[]): number[] {
  const found: number[] = [];
  const add = (from: number, to: number): void => void (to - from > NOISE && found.push(from, to));
  let first = 0;
  for (let i = 0; i < row.length; i += 2) {
    let from = row[i];
    while (first < cover.length && cover[first + 1] <= from) first += 2;
    for (let k = first; k < cover.length && cover[k] < row[i + 1] && from < row[i + 1]; k += 2) {
      add(from, Math.min(cover[k], row[i + 1]));
      from = Math.max(from, cover[k + 1]);
    }
    add(from, row[i + 1]);
  }
  return found;
}

/** Whether two shapes in fine bands share some area. */
export function overlap(one: Bands, other: Bands): boolean {
  const offset = Math.round((one.top - other.top) * PER_DOT);
  return one.rows.some((row, k) => {
    const across = other.rows[k + offset];
    if (!across) return false;
    for (let i = 0, j = 0; i < row.length && j < across.length; ) {
      if (Math.min(row[i + 1], across[j + 1]) - Math.max(row[i], across[j]) > NOISE) return true;
      if (row[i + 1] < across[j + 1]) i += 2;
      else j += 2;
    }
    return false;
  });
}

/** A part of a shape, dots. */
interface Part {
  readonly box: Box;
  readonly area: number;
}

/** How many parts a shape falls into; parts that touch are one. */
export const countParts = (bands: Bands): number => partsOf(bands).length;

function partsOf({ top, step, rows }: Bands): Part[] {
  const sets = new DisjointSets(rows.reduce((sum, row) => sum + row.length / 2, 0));
  const stretches: Box[] = [];
  let [above, first]: [readonly number[], number] = [[], 0];
  rows.forEach((row, k) => {
    const own = stretches.length;
    let from = 0;
    for (let i = 0; i < row.length; i += 2) {
      stretches.push({ minX: row[i], maxX: row[i + 1], minY: top + k * step, maxY: top + (k + 1) * step });
      while (from < above.length && above[from + 1] < row[i]) from += 2;
      for (let j = from; j < above.length && above[j] <= row[i + 1]; j += 2) sets.join(own + i / 2, first + j / 2);
    }
    [above, first] = [row, own];
  });
  return sets.groups().map((group) => ({
    box: group.map((i) => stretches[i]).reduce(joinBoxes),
    area: group.reduce((sum, i) => sum + (stretches[i].maxX - stretches[i].minX) * step, 0),
  }));
}

/** Openings nearer than this touch in the artwork, mm: rounding noise of its coordinates. */
const TOUCH_MM = 1e-6;

/**
 * Openings that run together although there is film between them in the artwork.
 *
 * @param pieces - for each asked opening, the positions of its corrected pieces
 * @param placed - their dots; not given for paths
 * @returns for the number of an opening, those of the others
 */
export function joinedPairs(
  asked: readonly Opening[],
  pieces: readonly (readonly number[])[],
  shapes: readonly PixelShape[],
  placed: readonly PlacedStamp[] | undefined,
  lattice: Lattice,
): ReadonlyMap<number, readonly number[]> {
  const found = new Map<number, number[]>();
  const beam = placed ? lattice.burning.beam : lattice.beam;
  const [all, openings]: [number[], number[]] = [[], []];
  pieces.forEach((own, opening) => {
    for (const k of own) openings[all.push(k) - 1] = opening;
  });
  const grow = burntBox(beam);
  const meet = meeting(shapes, placed, beam);
  boxIndex(all, (k) => grow(placed ? boxOfDots(placed[k]) : shapes[k])).eachPair((i, j) => {
    const [one, other] = [openings[i], openings[j]];
    if (other === one || found.get(one + 1)?.includes(other + 1) || !meet(all[i], all[j])) return;
    const [p, q] = [wallsOf(asked[one]), wallsOf(asked[other])];
    if (nearestBetween(p, q, TOUCH_MM)) return;
    listIn(found, one + 1).push(other + 1);
    listIn(found, other + 1).push(one + 1);
  });
  return found;
}

function burntBox({ halfWidth, halfHeight, lean }: Lattice['beam']): (box: Box) => Box {
  const across = Math.hypot(halfWidth, lean * halfHeight);
  return ({ minX, minY, maxX, maxY }) => ({
    minX: minX - across,
    minY: minY - halfHeight,
    maxX: maxX + across,
    maxY: maxY + halfHeight,
  });
}

/** Whether the beam joins two pieces; the same stamps, lying alike to each other, are looked at once. */
function meeting(
  shapes: readonly PixelShape[],
  placed: readonly PlacedStamp[] | undefined,
  beam: Lattice['beam'],
): (k: number, l: number) => boolean {
  if (!placed) {
    const burnt = (k: number): Bands => grown(bandsOfWalls(shapes[k].walls), beam);
    return (k, l) => overlap(burnt(k), burnt(l));
  }
  const [cuts, known, numberOf] = [new Map<Stamp, Bands>(), new Map<string, boolean>(), numbering<Stamp>()];
  const cutOf = (stamp: Stamp): Bands =>
    kept(cuts, stamp, () => grown(bandsOfDots([{ stamp, column: 0, row: 0 }]), beam));
  return (k, l) => {
    const [p, q] = [placed[k], placed[l]];
    const [dx, dy] = [q.column - p.column, q.row - p.row];
    return kept(known, `${numberOf(p.stamp)} ${numberOf(q.stamp)} ${dx} ${dy}`, () =>
      overlap(cutOf(p.stamp), movedBands(cutOf(q.stamp), dx, dy)),
    );
  };
}

const movedBands = ({ top, step, rows }: Bands, dx: number, dy: number): Bands => ({
  top: top + dy,
  step,
  rows: rows.map((row) => row.map((x) => x + dx)),
});

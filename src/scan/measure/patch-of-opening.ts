import { weightedQr } from '../../fit/linear/weighted-qr.js';
import { counterClockwise } from '../../geometry/affine.js';
import { ringBounds } from '../../geometry/bounds.js';
import { offsetByEllipse } from '../../geometry/offset.js';
import type { Region, Ring } from '../../geometry/types.js';
import { blur, coverageOf, type SampleGrid } from '../picture/raster.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import type { Strip } from './strip.js';

type Pair = readonly [number, number];

/** A small opening as it fits the picture best; mm of the scanner. */
export interface FittedPatch {
  /** How much wider it is than before it grew, across and along, with standard uncertainties. */
  readonly growth: Pair;
  readonly uMm: Pair;
  /** Share of what the picture shows of its walls that agrees. */
  readonly share: number;
}

/** What differs by more than such a share of the contrast takes no part: less and less, for the start may be far off. */
const AGREE = [0.3, 0.15, 0.08, 0.05, 0.05];
/** Nor does what differs by more than so many times the noise. */
const NOISE = 5;
/** Less weight than this is none. */
const LEAST_WEIGHT = 0.3;
/** Unknowns: growth across and along, the middle's place; the light at the middle, and how it falls off. */
const UNKNOWNS = 7;
/** Neighbours within so many sigma of the blur are wrong together. */
const TOGETHER = 2;
/** Openings of one film grow alike but for this, mm, where dirt hides what they do. */
const ALIKE_MM = 0.02;
/** Unknowns of which no more than this is left beside the others are not told. */
const LEAST_LEFT = 1e-7;
/** Coarser and softer than this nothing changes. */
const ARC_TOLERANCE_MM = 2e-4;

/**
 * Fits a shape that grew by an ellipse to what is seen of it, as soft as the picture is: both growths, its place and the
 * light. Dirt agrees with none of that, and takes no part (Tukey's weights, by less and less room).
 *
 * @param strip - about the middle of the opening, its rows as far apart as its columns
 * @param ring - the shape before it grew, mm, its axes those of the strip, its middle at 0
 * @param openShare - level of an opening as a share of the film's
 * @param usual - growths of other openings, to start from
 * @param middles - where its middle may be, mm: dirt may have drawn one of them aside
 */
export function fitPatch(
  strip: Strip,
  ring: Ring,
  { openShare, sigmaMm }: { readonly openShare: number; readonly sigmaMm: number },
  usual: Pair,
  middles: readonly Pair[] = [[0, 0]],
): FittedPatch | undefined {
  const { levels, stepMm } = strip;
  const depth = openShare - 1;
  const together = (TOGETHER * sigmaMm) / stepMm;
  // The film's light is that of the strip's sides, and falls off as it may.
  const light = medianOf(levels.filter((_, at) => isAtSide(strip, at)));
  const starts = middles.map((middle) => {
    const start = [...usual, ...middle, light, 0, 0];
    const { left } = expected(strip, softened(strip, ring, start, sigmaMm), start, depth, usual);
    return {
      start,
      off: left.reduce((sum, far) => sum + Math.min(Math.abs(far), AGREE[0] * Math.abs(depth) * light), 0),
    };
  });
  let all = starts.reduce((best, one) => (one.off < best.off ? one : best)).start;
  let fitted: FittedPatch | undefined;
  for (const agree of AGREE) {
    const { slopes, left } = expected(strip, softened(strip, ring, all, sigmaMm), all, depth, usual);
    const room = Math.max(NOISE * spreadOf(left.subarray(0, levels.length), 0), agree * Math.abs(depth) * all[4]);
    const weights = left.map((far, at) =>
      at < levels.length && Math.abs(far) < room ? (1 - (far / room) ** 2) ** 2 : 0,
    );
    const noise = Math.sqrt(sumOf(weights.map((weight, at) => weight * left[at] ** 2)) / sumOf(weights));
    weights.fill(((together * noise) / ALIKE_MM) ** 2, levels.length);
    const { solution, inverse, leastLeft } = weightedQr(slopes, left, weights);
    if (!(leastLeft > LEAST_LEFT)) return undefined;
    all = all.map((value, k) => value + solution[k]);
    const [uAcross, uAlong] = [0, 1].map((k) => together * noise * Math.sqrt(inverse[k][k]));
    fitted = { growth: [all[0], all[1]], uMm: [uAcross, uAlong], share: shareOf(slopes, weights) };
  }
  return fitted;
}

const isAtSide = ({ columns, rows }: Strip, at: number): boolean =>
  at % columns < 2 || at % columns > columns - 3 || at < 2 * columns || at >= (rows - 2) * columns;

/** How open each sample should be: 0 film, 1 opening. */
function softened(
  { columns, rows, stepMm, firstMm, firstRowMm }: Strip,
  ring: Ring,
  [across, along, dx, dy]: readonly number[],
  sigmaMm: number,
): Float32Array {
  const grid: SampleGrid = { columns, rows, stepMm, first: [firstMm - dx, firstRowMm - dy], along: [1, 0], up: [0, 1] };
  const open = coverageOf(grid, grownBy(ring, across, along));
  // A sample's own square has softened it already.
  blur(open, grid, Math.sqrt(Math.max(0.01, (sigmaMm / stepMm) ** 2 - 1 / 12)));
  return open;
}

/** What is left of each sample's level, and how the level that it should have grows with each unknown. */
function expected(
  { columns, levels, stepMm, firstMm, firstRowMm, rowStepMm }: Strip,
  open: Float32Array,
  [across, along, , , light, fallS, fallT]: readonly number[],
  depth: number,
  usual: Pair,
): { readonly slopes: readonly Float64Array[]; readonly left: Float64Array } {
  const slopes = Array.from({ length: UNKNOWNS }, () => new Float64Array(levels.length + 2));
  const left = new Float64Array(levels.length + 2);
  for (let at = 0; at < levels.length; at += 1) {
    const [s, t] = [firstMm + (at % columns) * stepMm, firstRowMm + Math.floor(at / columns) * rowStepMm];
    const film = light + fallS * s + fallT * t;
    const shade = 1 + depth * open[at];
    left[at] = levels[at] - film * shade;
    const x = ((open[at - 1] ?? 0) - (open[at + 1] ?? 0)) / (2 * stepMm);
    const y = ((open[at - columns] ?? 0) - (open[at + columns] ?? 0)) / (2 * stepMm);
    const steep = x * x + y * y;
    // Along the wall's normal an ellipse reaches out by half of this.
    const reach = steep > 0 ? Math.sqrt(((across * x) ** 2 + (along * y) ** 2) / steep) : 0;
    const out = steep > 0 ? (film * depth) / (2 * Math.sqrt(steep)) : 0;
    slopes[0][at] = out * x * x * towards(across, reach);
    slopes[1][at] = out * y * y * towards(along, reach);
    slopes[2][at] = film * depth * x;
    slopes[3][at] = film * depth * y;
    slopes[4][at] = shade;
    slopes[5][at] = shade * s;
    slopes[6][at] = shade * t;
  }
  // What openings usually grow by is one more reading of each growth.
  [across, along].forEach((growth, k) => {
    slopes[k][levels.length + k] = 1;
    left[levels.length + k] = usual[k] - growth;
  });
  return { slopes, left };
}

/** Next to no growth there is no direction of it. */
const towards = (growth: number, reach: number): number =>
  reach > 0 ? Math.min(4, Math.max(0.25, growth / reach)) : 1;

/** Grown by an ellipse; what is smaller than asked has shrunk as a whole. */
function grownBy(ring: Ring, across: number, along: number): Region[] {
  const { minX, maxX, minY, maxY } = ringBounds(ring);
  const [p, q] = [1 + Math.min(0, across) / (maxX - minX), 1 + Math.min(0, along) / (maxY - minY)];
  const outer = counterClockwise(ring.map(([x, y]): [number, number] => [p * x, q * y]));
  return offsetByEllipse({ outer, islands: [] }, Math.max(0, across), Math.max(0, along), 1, ARC_TOLERANCE_MM);
}

const sumOf = (values: Float64Array): number => values.reduce((sum, value) => sum + value, 0);

function shareOf([, , alongS, alongT]: readonly Float64Array[], weights: Float64Array): number {
  const told = alongS.map((value, at) => value ** 2 + alongT[at] ** 2);
  return sumOf(told.map((value, at) => (weights[at] > LEAST_WEIGHT ? value : 0))) / sumOf(told);
}

/**
 * By how much the chords across a shape that grew evenly to a width fall short of it within a band through its middle, mm.
 *
 * @param ring - the shape before it grew, mm, axis-parallel to across and along, its middle at 0
 */
export function chordLackOf(ring: Ring, widthMm: number, halfBandMm: number, sigmaMm: number): number {
  const { minX, maxX, maxY } = ringBounds(ring);
  const growth = Math.max(0, widthMm - (maxX - minX));
  const stepMm = sigmaMm / 3;
  const [s, t] = [maxX, maxY].map((half) => Math.ceil((half + growth / 2 + 4 * sigmaMm) / stepMm));
  const grid = { columns: 2 * s + 1, rows: 2 * t + 1, stepMm, firstMm: -s * stepMm, firstRowMm: -t * stepMm };
  const open = softened({ ...grid, rowStepMm: stepMm, phases: 0, levels: new Float32Array() }, ring, [growth, growth, 0, 0], sigmaMm); // biome-ignore format: one line
  const band = open.filter((_, at) => Math.abs(Math.floor(at / grid.columns) - t) * stepMm <= halfBandMm);
  return maxX - minX + growth - (band.reduce((sum, share) => sum + share, 0) * stepMm * grid.columns) / band.length;
}

import { counterClockwise } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import { offsetByEllipse } from '../../geometry/offset.js';
import type { Ring } from '../../geometry/types.js';
import { medianOf } from '../picture/robust.js';
import type { Strip } from './strip.js';

/** What a small opening shows in two directions. */
export interface Patch {
  /** By what stands out over the whole of it, mm²: blur does not change it. */
  readonly areaMm2: number;
  /** By what stands out along a line through the middle, across and along, mm. */
  readonly acrossMm: number;
  readonly alongMm: number;
}

/**
 * Sums what stands out within an ellipse about the middle of a strip; the ground is a plane through the strip's rim.
 *
 * @param reach - half axes of the ellipse, mm
 * @param band - half width of the bands through the middle, mm: along for the width across, across for the width along
 */
export function measurePatch(
  strip: Strip,
  reach: readonly [number, number],
  band: readonly [number, number],
  inside: (ground: number) => number,
): Patch | undefined {
  const { rows, columns, levels, stepMm, rowStepMm, firstMm, firstRowMm } = strip;
  const rim = { left: [] as number[], right: [] as number[], low: [] as number[], high: [] as number[] };
  for (let j = 0; j < rows; j += 1) {
    for (let k = 0; k < 3; k += 1) {
      rim.left.push(levels[j * columns + k]);
      rim.right.push(levels[j * columns + columns - 1 - k]);
    }
  }
  for (let i = 0; i < columns; i += 1) {
    for (let k = 0; k < 3; k += 1) {
      rim.low.push(levels[k * columns + i]);
      rim.high.push(levels[(rows - 1 - k) * columns + i]);
    }
  }
  const [left, right, low, high] = [rim.left, rim.right, rim.low, rim.high].map(medianOf);
  const mean = (left + right + low + high) / 4;
  const height = inside(mean) - mean;
  let [area, across, along] = [0, 0, 0];
  let [acrossRows, alongColumns] = [0, 0];
  for (let j = 0; j < rows; j += 1) {
    const t = firstRowMm + j * rowStepMm;
    if (Math.abs(t) <= band[1]) acrossRows += 1;
    for (let i = 0; i < columns; i += 1) {
      const s = firstMm + i * stepMm;
      if (j === 0 && Math.abs(s) <= band[0]) alongColumns += 1;
      if ((s / reach[0]) ** 2 + (t / reach[1]) ** 2 > 1) continue;
      const ground =
        mean + ((right - left) * s) / ((columns - 1) * stepMm) + ((high - low) * t) / ((rows - 1) * rowStepMm);
      const share = (levels[j * columns + i] - ground) / height;
      area += share;
      if (Math.abs(t) <= band[1]) across += share;
      if (Math.abs(s) <= band[0]) along += share;
    }
  }
  if (acrossRows === 0 || alongColumns === 0) return undefined;
  return {
    areaMm2: area * stepMm * rowStepMm,
    acrossMm: (across * stepMm) / acrossRows,
    alongMm: (along * rowStepMm) / alongColumns,
  };
}

/** Growths are told apart down to this, mm: a hundredth of what a scanner can. None is larger than the other. */
const GROWTH_MM = 1e-5;
const MOST_GROWTH_MM = 0.6;
const MOST_STEPS = 12;

/** No kerf differs by more between two directions, mm: what does is dirt. */
const MOST_DIFFERENCE_MM = 0.15;
const DIFFERENCE_STEPS = 4;

/**
 * Growth across of a shape that grew by an ellipse. Its area tells how much it grew, and the bands through its middle how
 * much more along than across. Blur takes from these, and the more the narrower the shape and the rounder: so they are held
 * against the bands that the grown shape would show at that blur.
 *
 * @param ring - the shape before it grew, mm, axis-parallel to across and along
 * @param band - half widths of the bands, as {@link measurePatch} took them, mm
 * @returns growth across, mm; nothing where no kerf makes as much of it
 */
export function growthOf(
  ring: Ring,
  { areaMm2, acrossMm, alongMm }: Patch,
  band: readonly [number, number],
  sigmaMm: number,
): number | undefined {
  let difference = 0;
  for (let k = 0; k < DIFFERENCE_STEPS; k += 1) {
    const across = growthFromArea(ring, areaMm2, difference);
    if (across === undefined || Math.min(across, across + difference) <= 0) return across;
    const grown = grownBy(ring, across, across + difference);
    const told = bandThrough(grown, ring, 1, band[0], sigmaMm) - bandThrough(grown, ring, 0, band[1], sigmaMm);
    difference += alongMm - acrossMm - told;
    if (Math.abs(difference) > MOST_DIFFERENCE_MM) return growthFromArea(ring, areaMm2, 0);
  }
  return growthFromArea(ring, areaMm2, difference);
}

/**
 * By how much the chords across a shape that grew evenly to a width fall short of it within a band through its middle, mm.
 *
 * @param ring - the shape before it grew, mm, axis-parallel to across and along
 */
export function chordLackOf(ring: Ring, widthMm: number, halfBandMm: number, sigmaMm: number): number {
  const growth = Math.max(0, widthMm - widthOf(ring));
  return widthOf(ring) + growth - bandThrough(grownBy(ring, growth, growth), ring, 0, halfBandMm, sigmaMm);
}

/** A normal distribution in steps of a quarter of its standard deviation, and a band in fifths. */
const NORMAL = Array.from({ length: 33 }, (_, i) => (i - 16) / 4).map((z) => [z, 0.25 * Math.exp(-z * z / 2) / Math.sqrt(2 * Math.PI)]); // biome-ignore format: one thought
const EVEN = [-0.8, -0.4, 0, 0.4, 0.8];

/** How long the rings are on average along an axis within a band through the middle of what they grew from, blurred. */
function bandThrough(rings: readonly Ring[], of: Ring, axis: 0 | 1, halfMm: number, sigmaMm: number): number {
  const other = 1 - axis;
  const { minX, maxX, minY, maxY } = ringBounds(of);
  const middle = other === 0 ? (minX + maxX) / 2 : (minY + maxY) / 2;
  let sum = 0;
  for (const even of EVEN) {
    for (const [z, weight] of NORMAL) sum += (weight / EVEN.length) * chord(middle + halfMm * even + sigmaMm * z);
  }
  return sum;

  function chord(t: number): number {
    let length = 0;
    for (const ring of rings) {
      ring.forEach((p, i) => {
        const q = ring[(i + 1) % ring.length];
        if (p[other] > t === q[other] > t) return;
        const at = p[axis] + ((q[axis] - p[axis]) * (t - p[other])) / (q[other] - p[other]);
        // Counter-clockwise rings run up on their right and backwards on their upper side.
        length += q[other] > p[other] === (axis === 0) ? at : -at;
      });
    }
    return length;
  }
}

const grownBy = (ring: Ring, acrossMm: number, alongMm: number): Ring[] =>
  offsetByEllipse({ outer: counterClockwise(ring), islands: [] }, acrossMm, alongMm, 1).flatMap(
    ({ outer, islands }) => [outer, ...islands],
  );

/**
 * Growth across, from the area and from how much more it grew along than across. The shape is the one that was cut, dot by
 * dot: between the tips of its stairs the beam leaves film, a few micrometres of a circle's width.
 *
 * @param difference - growth along less growth across, mm
 */
export function growthFromArea(ring: Ring, areaMm2: number, difference: number): number | undefined {
  const areaFor = (across: number): number =>
    grownBy(ring, across, across + difference).reduce((sum, one) => sum + ringArea(one), 0);
  const least = Math.max(0, -difference);
  let [last, growth] = [least, MOST_GROWTH_MM];
  let [lastOff, off] = [areaFor(last) - areaMm2, areaFor(growth) - areaMm2];
  // Smaller than asked: the shape shrinks as a whole.
  if (lastOff > 0) return least + widthOf(ring) * (Math.sqrt(areaMm2 / (areaMm2 + lastOff)) - 1);
  if (off < 0) return undefined;
  // The area grows nearly as a parabola, so that chords close in within a few steps.
  for (let k = 0; k < MOST_STEPS && Math.abs(growth - last) > GROWTH_MM; k += 1) {
    const next = Math.max(least, growth - (off * (growth - last)) / (off - lastOff));
    [last, lastOff] = [growth, off];
    [growth, off] = [next, areaFor(next) - areaMm2];
  }
  return growth;
}

function widthOf(ring: Ring): number {
  const { minX, maxX } = ringBounds(ring);
  return maxX - minX;
}

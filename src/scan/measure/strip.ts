import type { GreyPicture } from '../picture/picture.js';
import { levelAt } from '../picture/picture.js';
import { medianOf } from '../picture/robust.js';

type Vec = readonly [number, number];

/** A place in the picture with two directions: pixels for a millimetre of the scanner along each. */
export interface ScanFrame {
  readonly at: Vec;
  readonly across: Vec;
  readonly along: Vec;
}

export interface StripExtent {
  readonly from: number;
  readonly to: number;
}

/** Levels on a grid of its own: rows follow the edge, columns go across it. Lengths in mm of the scanner. */
export interface Strip {
  readonly rows: number;
  readonly columns: number;
  readonly stepMm: number;
  readonly firstMm: number;
  readonly firstRowMm: number;
  readonly rowStepMm: number;
  readonly levels: Float32Array;
}

/** Reads a strip of the picture; undefined where it leaves the picture. */
export function readStrip(
  picture: GreyPicture,
  { at, across, along }: ScanFrame,
  s: StripExtent,
  t: StripExtent,
  stepMm: number,
  rowStepMm = 2 * stepMm,
): Strip | undefined {
  const columns = Math.max(2, Math.round((s.to - s.from) / stepMm) + 1);
  const rows = Math.max(1, Math.round((t.to - t.from) / rowStepMm) + 1);
  const levels = new Float32Array(rows * columns);
  for (let j = 0; j < rows; j += 1) {
    const tj = t.from + j * rowStepMm;
    for (let i = 0; i < columns; i += 1) {
      const si = s.from + i * stepMm;
      const level = levelAt(picture, at[0] + across[0] * si + along[0] * tj, at[1] + across[1] * si + along[1] * tj);
      if (Number.isNaN(level)) return undefined;
      levels[j * columns + i] = level;
    }
  }
  return { rows, columns, stepMm, firstMm: s.from, firstRowMm: t.from, rowStepMm, levels };
}

/** The middle level of each column: what the edge looks like without specks. */
export function middleProfile({ rows, columns, levels }: Strip): Float64Array {
  const profile = new Float64Array(columns);
  const column = new Float64Array(rows);
  for (let i = 0; i < columns; i += 1) {
    for (let j = 0; j < rows; j += 1) column[j] = levels[j * columns + i];
    profile[i] = medianOf(column);
  }
  return profile;
}

/** The middle of a profile between two places; undefined where fewer than two samples lie. */
export function plateau(profile: ArrayLike<number>, strip: Strip, from: number, to: number): number | undefined {
  const first = Math.max(0, Math.ceil((from - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 1, Math.floor((to - strip.firstMm) / strip.stepMm));
  if (last - first < 1) return undefined;
  return medianOf(Array.prototype.slice.call(profile, first, last + 1) as number[]);
}

/** Where some levels pass `level` next to `near`, within `room`; undefined when they don't. */
export function crossingNear(
  levels: ArrayLike<number>,
  offset: number,
  strip: Strip,
  level: number,
  near: number,
  room: number,
  rising: boolean,
): number | undefined {
  const first = Math.max(0, Math.floor((near - room - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 2, Math.ceil((near + room - strip.firstMm) / strip.stepMm));
  let best: number | undefined;
  for (let i = first; i <= last; i += 1) {
    const [p, q] = [levels[offset + i] - level, levels[offset + i + 1] - level];
    if (rising ? !(p <= 0 && q > 0) : !(p >= 0 && q < 0)) continue;
    const place = strip.firstMm + (i + p / (p - q)) * strip.stepMm;
    if (Math.abs(place - near) <= room && (best === undefined || Math.abs(place - near) < Math.abs(best - near)))
      best = place;
  }
  return best;
}

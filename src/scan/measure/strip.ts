import { type GreyPicture, levelAt } from '../picture/picture.js';
import { medianOf } from '../picture/robust.js';

type Vec = readonly [number, number];

/** A place in the picture with two directions: pixels for a millimetre of the scanner along each. */
export interface ScanFrame {
  readonly at: Vec;
  readonly across: Vec;
  readonly along: Vec;
}

/** A place so many mm across. */
export const stripAlong = ({ at, across }: ScanFrame, mm: number): Vec => [
  at[0] + mm * across[0],
  at[1] + mm * across[1],
];

/** Levels on a grid of its own: rows follow the edge, columns go across it. Lengths in mm of the scanner. */
export interface Strip {
  readonly rows: number;
  readonly columns: number;
  readonly stepMm: number;
  readonly firstMm: number;
  readonly firstRowMm: number;
  readonly rowStepMm: number;
  /** Over how many dots its rows drift, sideways to them: 0 where all lie alike on the grid. */
  readonly phases: number;
  readonly levels: Float32Array;
}

export const bothWays = (mm: number): readonly [number, number] => [-mm, mm];

/** Reads a strip of the picture that reaches so far to both sides; undefined where it leaves the picture. */
export function readStrip(
  picture: GreyPicture,
  { at, across, along }: ScanFrame,
  [from, to]: readonly [number, number],
  halfAlongMm: number,
  stepMm: number,
  rowStepMm: number,
): Strip | undefined {
  const columns = Math.max(2, Math.round((to - from) / stepMm) + 1);
  const rows = Math.max(1, Math.round((2 * halfAlongMm) / rowStepMm) + 1);
  const levels = new Float32Array(rows * columns);
  for (let j = 0; j < rows; j += 1) {
    const tj = j * rowStepMm - halfAlongMm;
    for (let i = 0; i < columns; i += 1) {
      const si = from + i * stepMm;
      const level = levelAt(picture, at[0] + across[0] * si + along[0] * tj, at[1] + across[1] * si + along[1] * tj);
      if (Number.isNaN(level)) return undefined;
      levels[j * columns + i] = level;
    }
  }
  const phases = Math.min(Math.abs(along[0]), Math.abs(along[1])) * 2 * halfAlongMm;
  return { rows, columns, stepMm, firstMm: from, firstRowMm: -halfAlongMm, rowStepMm, phases, levels };
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

/** Columns of a strip by where they lie across it. */
export const columnsWithin = ({ columns, firstMm, stepMm }: Strip, lies: (mm: number) => boolean): number[] =>
  Array.from({ length: columns }, (_, i) => i).filter((i) => lies(firstMm + i * stepMm));

/** The middle of a profile between two places; undefined where fewer than two samples lie. */
export function plateau(profile: ArrayLike<number>, strip: Strip, from: number, to: number): number | undefined {
  const first = Math.max(0, Math.ceil((from - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 1, Math.floor((to - strip.firstMm) / strip.stepMm));
  if (last - first < 1) return undefined;
  return medianOf(Array.prototype.slice.call(profile, first, last + 1) as number[]);
}

/**
 * How far after sample `i`, in samples, the curve through four samples passes 0, where it does so between this and the
 * next one. A straight line between the two would be off by up to 2 um at the foot of an edge in a scan of 600 dpi, and for
 * all edges alike, because all grew by the same kerf.
 */
function passingAt(before: number, p: number, q: number, after: number): number {
  // Keys' cubic again; two steps of Newton's method from the straight line are as good as many.
  const b = 0.5 * (q - before);
  const c = before - 2.5 * p + 2 * q - 0.5 * after;
  const d = 0.5 * (after - before) + 1.5 * (p - q);
  let t = p / (p - q);
  for (let round = 0; round < 2; round += 1) {
    const slope = b + t * (2 * c + 3 * t * d);
    if (!(Math.abs(slope) > 0.2 * Math.abs(p - q))) break;
    t = Math.min(1, Math.max(0, t - (p + t * (b + t * (c + t * d))) / slope));
  }
  return t;
}

/** Where some levels pass `level` next to `near`, within `room`; undefined when they don't. */
export function crossingNear(
  levels: ArrayLike<number>,
  offset: number,
  strip: Pick<Strip, 'firstMm' | 'stepMm' | 'columns'>,
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
    const before = i > 0 ? levels[offset + i - 1] - level : 2 * p - q;
    const after = i + 2 < strip.columns ? levels[offset + i + 2] - level : 2 * q - p;
    const place = strip.firstMm + (i + passingAt(before, p, q, after)) * strip.stepMm;
    if (Math.abs(place - near) <= room && (best === undefined || Math.abs(place - near) < Math.abs(best - near)))
      best = place;
  }
  return best;
}

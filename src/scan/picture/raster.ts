import { coverageGrid } from '../../geometry/coverage.js';
import type { Point, Region } from '../../geometry/types.js';

/** A grid of samples with directions of its own, mm: the middle of the first sample, and the ways along columns and rows. */
export interface SampleGrid {
  readonly columns: number;
  readonly rows: number;
  readonly stepMm: number;
  readonly first: Point;
  readonly along: Point;
  readonly up: Point;
}

type Sized = Pick<SampleGrid, 'columns' | 'rows' | 'stepMm'>;

/** Where a sample lies, mm. */
export function placeIn({ columns, stepMm, first, along, up }: SampleGrid, at: number): Point {
  const [u, v] = [(at % columns) * stepMm, Math.floor(at / columns) * stepMm];
  return [first[0] + u * along[0] + v * up[0], first[1] + u * along[1] + v * up[1]];
}

/** Samples that count. */
export function where(
  { columns, rows }: Pick<SampleGrid, 'columns' | 'rows'>,
  counts: (at: number) => boolean,
): number[] {
  const found: number[] = [];
  for (let at = 0; at < columns * rows; at += 1) if (counts(at)) found.push(at);
  return found;
}

/** The share of each sample's square that regions cover; 0 to 1. */
export function coverageOf(
  { columns, rows, stepMm, first, along, up }: SampleGrid,
  regions: readonly Region[],
): Float32Array {
  const walls = regions.flatMap(({ outer, islands }) =>
    [outer, ...islands].flatMap((ring) => {
      const own = ring.map(([x, y]): Point => {
        const [dx, dy] = [x - first[0], y - first[1]];
        return [(dx * along[0] + dy * along[1]) / stepMm + 0.5, (dx * up[0] + dy * up[1]) / stepMm + 0.5];
      });
      return own.flatMap((from, i) => withinGrid(from, own[(i + 1) % own.length], columns, rows));
    }),
  );
  const shares = coverageGrid(Float64Array.from(walls), 0, 0, columns, rows);
  const out = new Float32Array(columns * rows);
  for (let row = 0; row < rows; row += 1)
    out.set(shares.subarray(row * (columns + 1), row * (columns + 1) + columns), row * columns);
  return out;
}

/** A wall as the grid sees it: above and below there is none, and left and right of it all are alike. */
function withinGrid([ax, ay]: Point, [bx, by]: Point, columns: number, rows: number): number[] {
  if (ay === by) return [];
  const at = (y: number): Point => [ax + ((y - ay) / (by - ay)) * (bx - ax), y];
  const inside = (y: number): number => Math.min(rows, Math.max(0, y));
  const [p, q] = [inside(ay), inside(by)];
  const sides = [0, columns]
    .map((x) => ay + ((x - ax) / (bx - ax)) * (by - ay))
    .filter((y) => (y - p) * (y - q) < 0)
    .sort((y, z) => (z - y) * (p - q));
  return [p, ...sides, q].flatMap((y, i, all) => {
    if (i === 0 || y === all[i - 1]) return [];
    const ends = [at(all[i - 1]), at(y)].map(([x, level]) => [Math.min(columns, Math.max(0, x)), level]);
    return ends.flat();
  });
}

/** Gaussian blur, in place; beyond its sides the grid is empty. */
export function blur(data: Float32Array, { columns, rows }: Pick<SampleGrid, 'columns' | 'rows'>, sigma: number): void {
  const reach = Math.ceil(3.5 * sigma);
  const kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, k) => Math.exp(-0.5 * ((k - reach) / sigma) ** 2));
  const whole = kernel.reduce((sum, value) => sum + value, 0);
  const line = new Float64Array(Math.max(columns, rows) + 2 * reach);
  const pass = (lines: number, length: number, step: number, across: number): void => {
    for (let n = 0; n < lines; n += 1) {
      line.fill(0);
      for (let i = 0; i < length; i += 1) line[reach + i] = data[n * across + i * step];
      for (let i = 0; i < length; i += 1) {
        let sum = 0;
        for (let k = 0; k < kernel.length; k += 1) sum += kernel[k] * line[i + k];
        data[n * across + i * step] = sum / whole;
      }
    }
  };
  pass(rows, columns, 1, columns);
  pass(columns, rows, columns, 1);
}

/**
 * How far each sample lies from the nearest one that counts, mm: 5-7-11 chamfer distances, within 2 % (Borgefors,
 * "Distance transformations in digital images", CVGIP 34 (1986), 344-371).
 */
export function distances({ columns, rows, stepMm }: Sized, counts: (at: number) => boolean): Float32Array {
  // A rim of two samples that never count stands in for what lies outside.
  const wide = columns + 2 * RIM;
  const far = new Float32Array(wide * (rows + 2 * RIM)).fill(1e9);
  for (let y = 0, at = 0; y < rows; y += 1) {
    const base = (y + RIM) * wide + RIM;
    for (let x = 0; x < columns; x += 1, at += 1) if (counts(at)) far[base + x] = 0;
  }
  // From the first sample to the last one, and back.
  for (let pass = 0; pass < 2; pass += 1) {
    chamfer(far, wide);
    far.reverse();
  }
  const out = new Float32Array(columns * rows);
  for (let y = 0, at = 0; y < rows; y += 1) {
    const base = (y + RIM) * wide + RIM;
    for (let x = 0; x < columns; x += 1, at += 1) out[at] = (far[base + x] / 5) * stepMm;
  }
  return out;
}

const RIM = 2;

/** Distances by the samples before each; the rim is left alone. */
function chamfer(far: Float32Array, wide: number): void {
  for (let row = RIM * wide; row < far.length - RIM * wide; row += wide) {
    for (let at = row + RIM; at < row + wide - RIM; at += 1) {
      const value = far[at];
      if (value === 0) continue;
      const [up, upper] = [at - wide, at - 2 * wide];
      far[at] = Math.min(
        value,
        Math.min(far[at - 1], far[up]) + 5,
        Math.min(far[up - 1], far[up + 1]) + 7,
        Math.min(far[up - 2], far[up + 2], far[upper - 1], far[upper + 1]) + 11,
      );
    }
  }
}

/**
 * Of samples that count those that belong to nothing thicker than twice `roomMm`. Corners of what is thick lie farther from
 * its midst than its sides do.
 *
 * @param midst - what stands for the midst of something thick where nothing is
 */
export function thinParts(
  grid: Sized,
  counts: (at: number) => boolean,
  roomMm: number,
  midst: (at: number) => boolean = () => false,
): (at: number) => boolean {
  const depth = distances(grid, (at) => !counts(at));
  const isThick = depth.some((far) => far > roomMm);
  const toThick = distances(grid, (at) => (isThick ? depth[at] > roomMm : midst(at)));
  return (at) => counts(at) && toThick[at] > 1.5 * roomMm;
}

/** Samples that hang together with those of `seeds`, over sides and corners, all of them `through`. */
export function connected(
  { columns, rows }: Pick<SampleGrid, 'columns' | 'rows'>,
  seeds: Iterable<number>,
  through: (at: number) => boolean,
): number[] {
  return spread({ columns, rows }, seeds, through, new Uint8Array(columns * rows));
}

/** Samples that count, by parts that hang together. */
export function* connectedParts(
  grid: Pick<SampleGrid, 'columns' | 'rows'>,
  counts: (at: number) => boolean,
): Generator<number[]> {
  const known = new Uint8Array(grid.columns * grid.rows);
  for (let at = 0; at < known.length; at += 1)
    if (known[at] === 0 && counts(at)) yield spread(grid, [at], counts, known);
}

/** @param known - samples that are left out; those that are found are added */
function spread(
  { columns, rows }: Pick<SampleGrid, 'columns' | 'rows'>,
  seeds: Iterable<number>,
  through: (at: number) => boolean,
  known: Uint8Array,
): number[] {
  const found: number[] = [];
  for (const seed of seeds) {
    if (known[seed] === 1 || !through(seed)) continue;
    known[seed] = 1;
    found.push(seed);
  }
  for (let n = 0; n < found.length; n += 1) {
    const [x, y] = [found[n] % columns, Math.floor(found[n] / columns)];
    for (let q = Math.max(0, y - 1); q <= Math.min(rows - 1, y + 1); q += 1) {
      for (let p = Math.max(0, x - 1); p <= Math.min(columns - 1, x + 1); p += 1) {
        const at = q * columns + p;
        if (known[at] === 1 || !through(at)) continue;
        known[at] = 1;
        found.push(at);
      }
    }
  }
  return found;
}

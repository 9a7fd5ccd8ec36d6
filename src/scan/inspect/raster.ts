import type { Point, Region } from '../../geometry/types.js';

/** A grid of samples with directions of its own, mm: the middle of the first sample, and the ways along columns and rows. */
export interface Grid {
  readonly columns: number;
  readonly rows: number;
  readonly stepMm: number;
  readonly first: Point;
  readonly along: Point;
  readonly up: Point;
}

/** Where a sample lies, mm. */
export function placeIn({ columns, stepMm, first, along, up }: Grid, at: number): Point {
  const [u, v] = [(at % columns) * stepMm, Math.floor(at / columns) * stepMm];
  return [first[0] + u * along[0] + v * up[0], first[1] + u * along[1] + v * up[1]];
}

/** Lines across each row of samples on which a polygon's share is taken. */
const LINES = 3;

/** The share of each sample's square that regions cover; 0 to 1. */
export function coverage({ columns, rows, stepMm, first, along, up }: Grid, regions: readonly Region[]): Float32Array {
  const out = new Float32Array(columns * rows);
  const lines: number[][] = Array.from({ length: rows * LINES }, () => []);
  for (const { outer, islands = [] } of regions) {
    for (const ring of [outer, ...islands]) {
      const own = ring.map(([x, y]): Point => {
        const [dx, dy] = [x - first[0], y - first[1]];
        return [(dx * along[0] + dy * along[1]) / stepMm + 0.5, ((dx * up[0] + dy * up[1]) / stepMm + 0.5) * LINES];
      });
      own.forEach(([ax, ay], i) => {
        const [bx, by] = own[(i + 1) % own.length];
        const [low, high] = ay < by ? [ay, by] : [by, ay];
        const last = Math.min(lines.length - 1, Math.ceil(high - 0.5) - 1);
        for (let line = Math.max(0, Math.ceil(low - 0.5)); line <= last; line += 1)
          lines[line].push(ax + ((line + 0.5 - ay) / (by - ay)) * (bx - ax));
      });
    }
  }
  lines.forEach((crossings, line) => {
    crossings.sort((p, q) => p - q);
    const base = Math.floor(line / LINES) * columns;
    for (let k = 0; k + 1 < crossings.length; k += 2) {
      const [from, to] = [Math.max(0, crossings[k]), Math.min(columns, crossings[k + 1])];
      for (let x = Math.floor(from); x < to; x += 1) out[base + x] += (Math.min(to, x + 1) - Math.max(from, x)) / LINES;
    }
  });
  return out;
}

/** Gaussian blur, in place; beyond its sides the grid is empty. */
export function blur(data: Float32Array, { columns, rows }: Pick<Grid, 'columns' | 'rows'>, sigma: number): void {
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
 * How far each sample lies from the nearest one that counts, in samples: 5-7-11 chamfer distances, within 2 % (Borgefors,
 * "Distance transformations in digital images", CVGIP 34 (1986), 344-371).
 */
export function distances(
  { columns, rows }: Pick<Grid, 'columns' | 'rows'>,
  counts: (at: number) => boolean,
): Float32Array {
  const far = Float32Array.from({ length: columns * rows }, (_, at) => (counts(at) ? 0 : 1e9));
  const ways = [
    [-1, 0, 5],
    [0, -1, 5],
    [-1, -1, 7],
    [1, -1, 7],
    [-2, -1, 11],
    [2, -1, 11],
    [-1, -2, 11],
    [1, -2, 11],
  ];
  const pass = (sign: 1 | -1): void => {
    for (let n = 0; n < far.length; n += 1) {
      const at = sign === 1 ? n : far.length - 1 - n;
      let least = far[at];
      if (least === 0) continue;
      const [x, y] = [at % columns, Math.floor(at / columns)];
      for (const [dx, dy, cost] of ways) {
        const [p, q] = [x + sign * dx, y + sign * dy];
        if (p < 0 || q < 0 || p >= columns || q >= rows) continue;
        const value = far[q * columns + p] + cost;
        if (value < least) least = value;
      }
      far[at] = least;
    }
  };
  pass(1);
  pass(-1);
  return far.map((value) => value / 5);
}

/** Samples that hang together with those of `seeds`, over sides and corners, all of them `through`. */
export function connected(
  { columns, rows }: Pick<Grid, 'columns' | 'rows'>,
  seeds: Iterable<number>,
  through: (at: number) => boolean,
): number[] {
  const known = new Uint8Array(columns * rows);
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

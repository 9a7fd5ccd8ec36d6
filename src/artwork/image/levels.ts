import { largest, smallest } from '../../geometry/bounds.js';
import type { CoverageMap } from './trace/coverage-map.js';

/** Brightness of film-or-opening dark and light, and how far noise reaches from them. */
export interface Levels {
  readonly dark: number;
  readonly light: number;
  readonly noise: number;
}

/** How much higher than an even spread over its class a level's peak must stand to count as clear. */
const CLEAR_PEAK = 1.6;
const MAX_NOISE = 24;
/** Pixels close to a level, as a share of those halfway between the levels, from which on they are noise. */
const NOISY = 0.6;

/**
 * Finds the two levels of a picture in its histogram: the peaks on both sides of the best threshold.
 *
 * @param counts - pixels of each brightness; length 256
 * @returns undefined when all pixels are alike
 * @remarks Source: Otsu, "A threshold selection method from gray-level histograms", 1979. The levels themselves are the
 * peaks, not the means, because the pixels on edges are no part of either.
 */
export function findLevels(counts: Float64Array): Levels | undefined {
  const [least, most] = [counts.findIndex((n) => n > 0), counts.findLastIndex((n) => n > 0)];
  if (least < 0 || most <= least) return undefined;
  const split = otsu(counts);
  const dark = peak(counts, least, split, least);
  const light = peak(counts, split + 1, most, most);
  return { dark, light, noise: Math.max(spread(counts, light, -1, dark), spread(counts, dark, 1, light)) };
}

/** Coverage by light for each brightness: linear between the levels, with what noise leaves beside them taken off. */
export function levelTable({ dark, light, noise }: Levels): Uint8Array {
  const table = new Uint8Array(256);
  for (let v = 0; v < 256; v += 1) {
    if (v <= dark + noise) table[v] = 0;
    else if (v >= light - noise) table[v] = 255;
    else table[v] = Math.round(((v - dark) * 255) / (light - dark));
  }
  return table;
}

/** The last brightness of the darker class. */
function otsu(counts: Float64Array): number {
  let total = 0;
  let sum = 0;
  counts.forEach((n, v) => {
    total += n;
    sum += n * v;
  });
  let below = 0;
  let belowSum = 0;
  let best = -1;
  let from = 0;
  let to = 0;
  for (let v = 0; v < 255; v += 1) {
    below += counts[v];
    belowSum += counts[v] * v;
    const above = total - below;
    if (below === 0 || above === 0) continue;
    const between = below * above * (belowSum / below - (sum - belowSum) / above) ** 2;
    if (between > best * (1 + 1e-12)) [best, from, to] = [between, v, v];
    else if (between >= best * (1 - 1e-12)) to = v;
  }
  return (from + to) >> 1;
}

function peak(counts: Float64Array, from: number, to: number, extreme: number): number {
  let all = 0;
  let best = from;
  let most = -1;
  for (let v = from; v <= to; v += 1) {
    all += counts[v];
    const sum = near(counts, v, from, to);
    if (sum > most) [best, most] = [v, sum];
  }
  const [first, last] = [Math.max(from, best - SMOOTH), Math.min(to, best + SMOOTH)];
  let beside = 0;
  for (let v = first; v <= last; v += 1) beside += counts[v];
  const evenly = (all * (last - first + 1)) / (to - from + 1);
  return beside >= CLEAR_PEAK * evenly ? best : extreme;
}

/** Neighbours over which counts are smoothed: noise that is cut off at 0 or 255 heaps up there, beside its middle. */
const SMOOTH = 10;

/** A count smoothed over its neighbours, so that noise doesn't choose the peak. */
function near(counts: Float64Array, v: number, from: number, to: number): number {
  let sum = 0;
  for (let k = Math.max(from, v - SMOOTH); k <= Math.min(to, v + SMOOTH); k += 1)
    sum += (SMOOTH + 1 - Math.abs(k - v)) * counts[k];
  return sum;
}

/**
 * How far noise reaches from a level towards the other. Edges alone put about an eighth as many pixels into the nearest
 * sixteenth of the range as into its middle half; clearly more is noise, and ends where the even spread of edges begins.
 */
function spread(counts: Float64Array, level: number, step: 1 | -1, other: number): number {
  const reach = Math.abs(other - level);
  let edges = 0;
  const [a, b] = [Math.min(level, other) + (reach >> 2), Math.max(level, other) - (reach >> 2)];
  for (let v = a; v < b; v += 1) edges += counts[v];
  let beside = 0;
  for (let k = 1; k <= reach >> 4; k += 1) beside += counts[level + step * k];
  if (beside <= NOISY * edges + counts[level] * 1e-4) return 0;
  const floor = Math.max((2.5 * edges) / Math.max(1, b - a), counts[level] * 1e-4);
  const limit = Math.min(MAX_NOISE, reach >> 3);
  let k = 1;
  while (k <= limit && counts[level + step * k] > floor) k += 1;
  return k - 1;
}

/** Side of the squares in which levels are looked for, pixels. */
const TILE = 96;
/** A small picture is cut into so many all the same, if each is this wide. */
const FEWEST = 6;
const SMALLEST_TILE = 24;
/** Share of a tile that must lie near a level for the tile to speak of it. */
const ENOUGH = { dark: 0.01, light: 0.1 };
/** Light that changes by less over the picture is even. */
const UNEVEN = 8;

/** Levels that change from place to place, as under a scanner's lamp. */
export interface LevelField {
  /** Range of the film's level over the picture. */
  readonly from: number;
  readonly to: number;
}

/**
 * Makes the brightness of an unevenly lit picture coverage by light, by the levels of its parts.
 *
 * @param levels - of the picture on the whole
 * @returns undefined when it is evenly lit, and left as it is
 * @remarks Memory: 1 kB a tile, 25 MB for an A4 sheet at 1200 dpi.
 */
export function evenlyLit(map: CoverageMap, levels: Levels): LevelField | undefined {
  const { width, height } = map;
  const grid: Grid = { columns: tilesAcross(width), rows: tilesAcross(height), width, height };
  const counts = countTiles(map, grid);
  const [lightTiles, darkTiles] = [tilesAt(counts, grid, levels, 'light'), tilesAt(counts, grid, levels, 'dark')];
  const [light, dark] = [evened(lightTiles, grid, levels.light), evened(darkTiles, grid, levels.dark)];
  // The film is nearly everywhere; small openings that are blurred do not show the light.
  const film = spoken(lightTiles) >= spoken(darkTiles) ? light : dark;
  const [from, to] = [smallest(film), largest(film)];
  if (to - from < UNEVEN) return undefined;
  map.relight(mapper(light, dark, grid, levels.noise));
  return { from: Math.round(from), to: Math.round(to) };
}

/** Counts brightness tile by tile. */
function countTiles(map: CoverageMap, { columns, rows, width, height }: Grid): Uint32Array {
  const counts = new Uint32Array(columns * rows * 256);
  for (const [pixels, times, first] of map.held()) {
    for (let y = first; y < first + times; y += 1) {
      const base = Math.min(rows - 1, Math.floor((y * rows) / height)) * columns;
      for (let c = 0; c < columns; c += 1) {
        const at = (base + c) * 256;
        const end = Math.floor(((c + 1) * width) / columns);
        for (let x = Math.floor((c * width) / columns); x < end; x += 1) counts[at + pixels[x]] += 1;
      }
    }
  }
  return counts;
}

function tilesAcross(length: number): number {
  return Math.max(1, Math.round(length / TILE), Math.min(FEWEST, Math.floor(length / SMALLEST_TILE)));
}

/** How many tiles lie along each side of a picture of so many pixels. */
interface Grid {
  readonly columns: number;
  readonly rows: number;
  readonly width: number;
  readonly height: number;
}

/** The median of what lies near a level, for every tile that has enough of it; NaN for the others. */
function tilesAt(counts: Uint32Array, grid: Grid, { dark, light }: Levels, which: 'dark' | 'light'): Float64Array {
  const quarter = (light - dark) / 4;
  const [from, to] = which === 'dark' ? [0, Math.floor(dark + quarter)] : [Math.ceil(light - quarter), 255];
  const out = new Float64Array(grid.columns * grid.rows).fill(Number.NaN);
  const least = (ENOUGH[which] * grid.width * grid.height) / out.length;
  for (let tile = 0; tile < out.length; tile += 1) {
    const of = counts.subarray(tile * 256 + from, tile * 256 + to + 1);
    const all = of.reduce((sum, n) => sum + n, 0);
    if (all >= least) out[tile] = from + median(of, all);
  }
  return out;
}

const spoken = (tiles: Float64Array): number => tiles.reduce((sum, v) => sum + (Number.isNaN(v) ? 0 : 1), 0);

/** Where half of the counts lie below, between two levels where it falls there. */
function median(counts: Uint32Array, all: number): number {
  let below = 0;
  for (let v = 0; v < counts.length; v += 1) {
    if (below + counts[v] >= all / 2) return v - 0.5 + (all / 2 - below) / counts[v];
    below += counts[v];
  }
  return counts.length - 1;
}

/** Tiles that say nothing take their neighbours' level; then each one is smoothed over its neighbours. */
function evened(tiles: Float64Array, grid: Grid, level: number): Float64Array {
  let now = tiles;
  if (now.every(Number.isNaN)) return now.map(() => level);
  while (now.some(Number.isNaN)) now = now.map((v, i) => (Number.isNaN(v) ? meanAbout(now, grid, i) : v));
  return now.map((_, i) => meanAbout(now, grid, i));
}

function meanAbout(tiles: Float64Array, { columns, rows }: Grid, index: number): number {
  const [column, row] = [index % columns, Math.floor(index / columns)];
  let [sum, weight] = [0, 0];
  for (let dy = -1; dy <= 1; dy += 1)
    for (let dx = -1; dx <= 1; dx += 1) {
      const [c, r] = [column + dx, row + dy];
      const v = c >= 0 && c < columns && r >= 0 && r < rows ? tiles[r * columns + c] : Number.NaN;
      if (Number.isNaN(v)) continue;
      const w = (2 - Math.abs(dx)) * (2 - Math.abs(dy));
      sum += w * v;
      weight += w;
    }
  return weight > 0 ? sum / weight : Number.NaN;
}

/** What makes a row of brightness coverage by light. */
function mapper(light: Float64Array, dark: Float64Array, grid: Grid, noise: number) {
  const [lightAlong, darkAlong] = [betweenTiles(light, grid), betweenTiles(dark, grid)];
  const [bright, black] = [new Float64Array(grid.width), new Float64Array(grid.width)];
  return (pixels: Uint8Array, y: number): void => {
    lightAlong(y, bright);
    darkAlong(y, black);
    for (let x = 0; x < bright.length; x += 1) {
      const [l, d, v] = [bright[x], black[x], pixels[x]];
      pixels[x] = v <= d + noise ? 0 : v >= l - noise ? 255 : Math.round(((v - d) * 255) / (l - d));
    }
  };
}

/**
 * Puts levels of tiles back to pixels, by straight lines between the tiles' middles.
 *
 * @returns writes the levels along one row of the picture
 */
export function betweenTiles(
  tiles: ArrayLike<number>,
  { columns, rows, width, height }: Grid,
): (y: number, row: Float32Array | Float64Array) => void {
  const across = Array.from({ length: width }, (_, x) => placeBetween(x, width, columns));
  const [lefts, shares] = [
    Uint32Array.from(across, ([left]) => left),
    Float64Array.from(across, ([, , share]) => share),
  ];
  const along = new Float64Array(columns);
  return (y, row) => {
    const [r, next, t] = placeBetween(y, height, rows);
    for (let c = 0; c < columns; c += 1) {
      const level = tiles[r * columns + c];
      along[c] = level + (tiles[next * columns + c] - level) * t;
    }
    for (let x = 0; x < width; x += 1) {
      const level = along[lefts[x]];
      row[x] = level + (along[Math.min(columns - 1, lefts[x] + 1)] - level) * shares[x];
    }
  };
}

/** The two tiles along a side between whose middles a pixel lies, and how far it is on the way to the second. */
function placeBetween(pixel: number, length: number, tiles: number): readonly [number, number, number] {
  const at = ((pixel + 0.5) * tiles) / length - 0.5;
  const first = Math.max(0, Math.min(tiles - 1, Math.floor(at)));
  return [first, Math.min(tiles - 1, first + 1), Math.max(0, Math.min(1, at - first))];
}

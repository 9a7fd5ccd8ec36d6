import { largest, smallest } from '../../geometry/extremes.js';
import type { Levels } from './levels.js';
import type { RowSink } from './source.js';

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
  /** Turns a row of brightness into coverage by light. */
  map(row: Uint8Array, out: Uint8Array, y: number): void;
}

/** Counts brightness tile by tile, while rows go by. */
export interface TileCounter extends RowSink {
  /** Pixels of each level in the whole picture. */
  counts(): Float64Array;
  /** Undefined when the picture is evenly lit. */
  fieldAbout(levels: Levels): LevelField | undefined;
}

/** @remarks Memory: 1 kB a tile, 25 MB for an A4 sheet at 1200 dpi. */
export function tileCounter(width: number, height: number): TileCounter {
  const [columns, rows] = [tilesAcross(width), tilesAcross(height)];
  const counts = new Uint32Array(columns * rows * 256);
  let last = new Uint8Array(0);
  let y = 0;
  const add = (row: Uint8Array): void => {
    const base = Math.min(rows - 1, Math.floor((y * rows) / height)) * columns;
    for (let c = 0; c < columns; c += 1) {
      const at = (base + c) * 256;
      const end = Math.floor(((c + 1) * width) / columns);
      for (let x = Math.floor((c * width) / columns); x < end; x += 1) counts[at + row[x]] += 1;
    }
    y += 1;
  };
  return {
    addGreyRow(row) {
      last = row.slice();
      add(row);
    },
    addBitRow: () => undefined,
    repeatRow: () => add(last),
    counts() {
      const all = new Float64Array(256);
      for (let i = 0; i < counts.length; i += 1) all[i & 255] += counts[i];
      return all;
    },
    fieldAbout(levels) {
      const grid = { columns, rows, width, height };
      const [lightTiles, darkTiles] = [tilesAt(counts, grid, levels, 'light'), tilesAt(counts, grid, levels, 'dark')];
      const [light, dark] = [evened(lightTiles, grid, levels.light), evened(darkTiles, grid, levels.dark)];
      // The film is nearly everywhere; small openings that are blurred do not show the light.
      const film = spoken(lightTiles) >= spoken(darkTiles) ? light : dark;
      const [from, to] = [smallest(film), largest(film)];
      if (to - from < UNEVEN) return undefined;
      return { from: Math.round(from), to: Math.round(to), map: mapper(light, dark, grid, levels.noise) };
    },
  };
}

function tilesAcross(length: number): number {
  return Math.max(1, Math.round(length / TILE), Math.min(FEWEST, Math.floor(length / SMALLEST_TILE)));
}

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

function mapper(light: Float64Array, dark: Float64Array, grid: Grid, noise: number): LevelField['map'] {
  const { columns, width } = grid;
  const between = Array.from({ length: width }, (_, x) => placed(((x + 0.5) * columns) / width - 0.5, columns));
  const ofRow = (tiles: Float64Array, y: number): Float64Array => {
    const [r, next, t] = placed(((y + 0.5) * grid.rows) / grid.height - 0.5, grid.rows);
    return Float64Array.from({ length: columns }, (_, c) => {
      const v = tiles[r * columns + c];
      return v + (tiles[next * columns + c] - v) * t;
    });
  };
  return (row, out, y) => {
    const [bright, black] = [ofRow(light, y), ofRow(dark, y)];
    for (let x = 0; x < width; x += 1) {
      const [c, next, t] = between[x];
      const l = bright[c] + (bright[next] - bright[c]) * t;
      const d = black[c] + (black[next] - black[c]) * t;
      const v = row[x];
      out[x] = v <= d + noise ? 0 : v >= l - noise ? 255 : Math.round(((v - d) * 255) / (l - d));
    }
  };
}

/** The two middles of tiles between which a place lies, and how far it is on the way. */
function placed(at: number, count: number): [number, number, number] {
  const first = Math.max(0, Math.min(count - 1, Math.floor(at)));
  const next = Math.min(count - 1, first + 1);
  return [first, next, Math.max(0, Math.min(1, at - first))];
}

import { boxIndex } from '../geometry/box-index.js';
import type { PerAxis } from '../geometry/types.js';
import { nearestBetween } from '../geometry/walls.js';
import { trimmedFrom } from './masks.js';
import type { PixelShape } from './shape.js';
import { boxOfDots, type PlacedStamp } from './stamp.js';

/** Where no kerf is known, film that is at least this wide in the artwork keeps at least one dot everywhere. */
const KEPT_FILM_DOTS = 0.5;

/**
 * Openings that have film between them in the artwork never grow together, be it at a corner: one of the two is moved by
 * a dot, or where that does not help the larger one is trimmed.
 *
 * @param placed - changed in place
 * @param kerf - full widths of the beam, dots
 * @param yields - which ones give way to all others, whose dots are then the same as without them
 */
export function keepApart(
  shapes: readonly PixelShape[],
  placed: PlacedStamp[],
  kerf: PerAxis,
  yields: (i: number) => boolean = () => false,
): void {
  const reach = { x: Math.ceil(kerf.x) + 1, y: Math.ceil(kerf.y) + 1 };
  const index = boxIndex(placed, boxOfDots);
  const beam = beamOf(kerf);
  // Film is left where the beam, walking along one opening, does not reach the other: in beam widths.
  const [sx, sy] = kerf.x > 0 && kerf.y > 0 ? [kerf.x, kerf.y] : [KEPT_FILM_DOTS, KEPT_FILM_DOTS];
  const walls = remembered((i) => scaled(shapes[i], sx, sy));
  const apart = remembered((pair) => {
    const [i, j] = [Math.floor(pair / shapes.length), pair % shapes.length];
    const nearest = nearestBetween(walls(i), walls(j), 2);
    return !nearest || nearest.distanceMm >= 1;
  });
  const askedApart = (i: number, j: number): boolean => apart(Math.min(i, j) * shapes.length + Math.max(i, j));
  const isThere = (i: number, j: number): boolean => placed[j].stamp.count > 0 && (yields(i) || !yields(j));
  const joinedTo = (i: number): number[] =>
    placed[i].stamp.count === 0
      ? []
      : index
          .nearTo(i, Math.max(reach.x, reach.y) + 2)
          .filter((j) => isThere(i, j) && beam.joins(placed[i], placed[j]) && askedApart(i, j));
  const toBeTrimmed = (i: number, j: number): [number, number] =>
    yields(i) !== yields(j) || placed[i].stamp.count >= placed[j].stamp.count ? [i, j] : [j, i];
  const all = placed.map((_, i) => i);
  for (const i of [...all.filter((one) => !yields(one)), ...all.filter(yields)]) {
    for (const j of joinedTo(i)) {
      const alike = yields(i) === yields(j);
      if (alike && j < i) continue;
      if (movedFree(i, placed, joinedTo) || (alike && movedFree(j, placed, joinedTo))) continue;
      const [trimmed, kept] = toBeTrimmed(i, j);
      placed[trimmed] = trimmedFrom(placed[trimmed], placed[kept], beam.joinsAt, reach);
    }
  }
}

const MOVES: readonly (readonly [number, number])[] = [
  [1, 0],
  [-1, 0],
  [0, 1],
  [0, -1],
];

/** Moves an opening by a dot if that sets it free from all others. */
function movedFree(i: number, placed: PlacedStamp[], joinedTo: (i: number) => number[]): boolean {
  const before = placed[i];
  for (const [dx, dy] of MOVES) {
    placed[i] = { ...before, column: before.column + dx, row: before.row + dy };
    if (joinedTo(i).length === 0) return true;
  }
  placed[i] = before;
  return false;
}

function remembered<T>(work: (key: number) => T): (key: number) => T {
  const known = new Map<number, T>();
  return (key) => {
    const value = known.get(key) ?? work(key);
    known.set(key, value);
    return value;
  };
}

function scaled({ walls }: PixelShape, sx: number, sy: number) {
  const xy = walls.map((value, i) => value / (i % 2 === 0 ? sx : sy));
  let [minX, minY, maxX, maxY] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let at = 0; at < xy.length; at += 2) {
    minX = Math.min(minX, xy[at]);
    maxX = Math.max(maxX, xy[at]);
    minY = Math.min(minY, xy[at + 1]);
    maxY = Math.max(maxY, xy[at + 1]);
  }
  return { xy, box: { minX, minY, maxX, maxY } };
}

/** What two dots burn meets where the film between them is narrower than the beam; without one, where they touch. */
function beamOf(kerf: PerAxis) {
  /** Film between two runs, in columns, below which they join when so many rows apart; below 0: never. */
  const across = (rowsApart: number): number => {
    const film = Math.max(0, Math.abs(rowsApart) - 1);
    if (kerf.y <= 0) return film === 0 ? kerf.x : -1;
    return film <= kerf.y ? kerf.x * Math.sqrt(1 - (film / kerf.y) ** 2) : -1;
  };
  const most = Math.ceil(kerf.y) + 1;
  const limits = Array.from({ length: 2 * most + 1 }, (_, k) => across(k - most));
  const joinsAt = (columnsApart: number, rowsApart: number): boolean =>
    Math.abs(rowsApart) <= most && Math.max(0, Math.abs(columnsApart) - 1) <= limits[rowsApart + most];
  const joins = (p: PlacedStamp, q: PlacedStamp): boolean => {
    const from = Math.max(p.row, q.row - most);
    const to = Math.min(p.row + p.stamp.height, q.row + q.stamp.height + most);
    for (let row = from; row < to; row += 1) {
      for (let k = 0; k <= 2 * most; k += 1) {
        if (limits[k] >= 0 && runsJoin(p, row - p.row, q, row + k - most - q.row, limits[k])) return true;
      }
    }
    return false;
  };
  return { joins, joinsAt };
}

function runsJoin(p: PlacedStamp, pRow: number, q: PlacedStamp, qRow: number, limit: number): boolean {
  if (qRow < 0 || qRow >= q.stamp.height) return false;
  const [a, b] = [p.stamp, q.stamp];
  // Runs are in order: whichever ends first meets nothing further right.
  for (let [i, j] = [a.rowStart[pRow], b.rowStart[qRow]]; i < a.rowStart[pRow + 1] && j < b.rowStart[qRow + 1]; ) {
    const film = Math.max(
      q.column + b.runs[j] - p.column - a.runs[i + 1],
      p.column + a.runs[i] - q.column - b.runs[j + 1],
    );
    if (film <= limit) return true;
    if (p.column + a.runs[i + 1] < q.column + b.runs[j + 1]) i += 2;
    else j += 2;
  }
  return false;
}

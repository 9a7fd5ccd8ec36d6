import { coverageRuns } from '../geometry/coverage.js';
import type { PerAxis } from '../geometry/types.js';
import type { PixelShape } from './shape.js';
import type { EqualShapes } from './shape-classes.js';

/** Coverage within this of 0 or 1 is none or all. */
const EDGE = 1e-6;

/** A shape laid on the grid of dots, with a dot of film all around. Grid positions are row * columns + column. */
export interface GriddedShape {
  readonly columns: number;
  readonly rows: number;
  /** Where the middle of the shape's box lies in the grid. */
  readonly middle: PerAxis;
  /** 1 for every dot that the shape touches. */
  readonly touched: Uint8Array;
  /** How many these are. */
  readonly touchedCount: number;
  /** Dots that are covered in part, least first and outer ones first; those that symmetry makes equal stand together. */
  readonly outer: readonly Outer[];
  /** Which of the outer ones a dot belongs to. */
  readonly orbitAt: ReadonlyMap<number, number>;
}

/** Dots that symmetry makes equal. */
export interface Outer {
  readonly dots: readonly number[];
  readonly cover: number;
  /** Along the middle of a straight wall: without them it lies off by their cover, with them by the rest of a dot. */
  readonly isWall: boolean;
  /** Dots without which these would stick out of a straight wall. */
  readonly needs: Set<number>;
}

/**
 * @param found - `straight`: walls along the dots get no bumps
 * @param phaseX - where in a dot the middle of the shape's box lies
 */
export function laidOn(
  found: EqualShapes & { readonly straight?: boolean },
  phaseX: number,
  phaseY: number,
): GriddedShape {
  const { shape } = found;
  const c0 = Math.floor(shape.minX + phaseX + EDGE);
  const r0 = Math.floor(shape.minY + phaseY + EDGE);
  const columns = Math.max(1, Math.ceil(shape.maxX + phaseX - EDGE) - c0) + 2;
  const rows = Math.max(1, Math.ceil(shape.maxY + phaseY - EDGE) - r0) + 2;
  const middle = { x: phaseX - c0 + 1, y: phaseY - r0 + 1 };
  const touched = new Uint8Array(columns * rows);
  const orbits = new Map<number, Outer & { dots: number[]; cover: number; far: number }>();
  const keyOf = (dot: number): number => {
    const [column, row] = [dot % columns, Math.floor(dot / columns)];
    // Twice the distance from the middle is a whole number for every symmetric phase.
    return orbitKey(found, 2 * (column + 0.5 - middle.x), 2 * (row + 0.5 - middle.y), dot);
  };
  // Along the middle of a straight wall all are burnt or none: half a row would be a bump on the wall.
  const lines = found.straight ? linesAlong(straightWalls(shape, middle), columns) : [];
  const keyAlong = new Map<number, number>();
  for (const line of lines) {
    // The least key is that of the wall's images, too.
    const key = line.middle.reduce((least, dot) => Math.min(least, keyOf(dot)), Infinity);
    for (const dot of line.middle) keyAlong.set(dot, key);
  }
  let touchedCount = 0;
  coverageRuns(shape.walls, middle.x, middle.y, columns, rows, (row, from, to, share) => {
    if (share <= EDGE) return;
    touched.fill(1, row * columns + from, row * columns + to);
    touchedCount += to - from;
    if (share >= 1 - EDGE) return;
    for (let column = from; column < to; column += 1) {
      const dot = row * columns + column;
      const key = keyAlong.get(dot) ?? keyOf(dot);
      const orbit = orbits.get(key);
      if (orbit) {
        orbit.cover += (share - orbit.cover) / (orbit.dots.length + 1);
        orbit.dots.push(dot);
      } else
        orbits.set(key, {
          dots: [dot],
          cover: share,
          isWall: keyAlong.has(dot),
          needs: new Set(),
          far: (column + 0.5 - middle.x) ** 2 + (row + 0.5 - middle.y) ** 2,
        });
    }
  });
  const outer = [...orbits.values()].sort((p, q) => step(p.cover) - step(q.cover) || q.far - p.far);
  const orbitAt = new Map<number, number>();
  for (let k = 0; k < outer.length; k += 1) for (const dot of outer[k].dots) orbitAt.set(dot, k);
  const laid = { columns, rows, middle, touched, touchedCount, outer, orbitAt };
  for (const line of lines) chainEnds(line, laid);
  return laid;
}

/** A wall along the dots' rows (`along` 0) or columns, in dots of the grid. */
interface Straight {
  readonly along: 0 | 1;
  readonly at: number;
  readonly from: number;
  readonly to: number;
}

/** Walls that lean by less in all are straight, dots. */
const STRAIGHT_DOTS = 0.05;
/** Shorter ones are left to the walk, dots. */
const LONG_DOTS = 6;
/** The share of a straight wall at each of its ends where single dots may come and go, for the area. */
const END_SHARE = 1 / 6;
/** And no more than so many, dots. */
const END_DOTS = 4;

function straightWalls({ walls }: PixelShape, middle: PerAxis): Straight[] {
  const found: Straight[] = [];
  for (let at = 0; at < walls.length; at += 4) {
    for (const along of [0, 1] as const) {
      const [from, to] = [walls[at + along], walls[at + 2 + along]];
      const [p, q] = [walls[at + 1 - along], walls[at + 3 - along]];
      if (Math.abs(q - p) >= STRAIGHT_DOTS || Math.abs(to - from) < LONG_DOTS) continue;
      const [own, across] = along === 0 ? [middle.x, middle.y] : [middle.y, middle.x];
      found.push({ along, at: (p + q) / 2 + across, from: Math.min(from, to) + own, to: Math.max(from, to) + own });
    }
  }
  return found;
}

/** Whether any wall runs along the dots for so long that half a row of them would be a bump. */
export const hasStraightWalls = (shape: PixelShape): boolean => straightWalls(shape, { x: 0, y: 0 }).length > 0;

/** Dots along the middle of a straight wall, and from each to the next. */
interface Line {
  readonly middle: readonly number[];
  readonly step: number;
}

function linesAlong(straight: readonly Straight[], columns: number): Line[] {
  return straight.flatMap(({ along, at, from, to }) => {
    const line = Math.floor(at);
    const end = Math.min(END_DOTS, END_SHARE * (to - from));
    const middle: number[] = [];
    for (let k = Math.ceil(from + end); k + 1 <= to - end; k += 1)
      middle.push(along === 0 ? line * columns + k : k * columns + line);
    return [{ middle, step: along === 0 ? 1 : columns }];
  });
}

/** On either side of its middle a line of dots goes on as far as these are covered in part: none comes before the one beside it. */
function chainEnds({ middle, step }: Line, { outer, orbitAt }: GriddedShape): void {
  for (const [from, by] of [
    [middle[0], -step],
    [middle[middle.length - 1], step],
  ]) {
    for (let dot = from; ; dot += by) {
      const orbit = orbitAt.get(dot + by);
      if (orbit === undefined) break;
      outer[orbit].needs.add(dot);
    }
  }
}

/** Dots whose coverage differs by less than a fiftieth are taken from the ends of a wall inwards. */
const step = (cover: number): number => Math.round(50 * cover);

/** The same for dots that the shape's symmetry makes each other's image; a dot's own where it has none. */
function orbitKey({ mirrorX, mirrorY, halfTurn }: EqualShapes, dx: number, dy: number, dot: number): number {
  if (!mirrorX && !mirrorY && !halfTurn) return dot;
  let [x, y] = [dx, dy];
  if (mirrorX) x = Math.abs(x);
  if (mirrorY) y = Math.abs(y);
  if (halfTurn && !mirrorX && (y < -1e-6 || (Math.abs(y) <= 1e-6 && x < 0))) [x, y] = [-x, -y];
  return Math.round(x * 4) * 1e6 + Math.round(y * 4);
}

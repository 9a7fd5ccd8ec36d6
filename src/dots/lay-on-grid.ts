import { coverageRuns } from './coverage.js';
import type { EqualShapes } from './shape-classes.js';

/** Coverage within this of 0 or 1 is none or all. */
const EDGE = 1e-6;

/** A shape laid on the grid of dots. Grid positions are row * columns + column. */
export interface GriddedShape {
  readonly columns: number;
  readonly rows: number;
  /** Where the middle of the shape's box lies in the grid. */
  readonly middle: { readonly x: number; readonly y: number };
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
}

/** @param phaseX - where in a dot the middle of the shape's box lies */
export function laidOn(found: EqualShapes, phaseX: number, phaseY: number): GriddedShape {
  const { shape } = found;
  const c0 = Math.floor(shape.minX + phaseX + EDGE);
  const r0 = Math.floor(shape.minY + phaseY + EDGE);
  const columns = Math.max(1, Math.ceil(shape.maxX + phaseX - EDGE) - c0);
  const rows = Math.max(1, Math.ceil(shape.maxY + phaseY - EDGE) - r0);
  const middle = { x: phaseX - c0, y: phaseY - r0 };
  const touched = new Uint8Array(columns * rows);
  const orbits = new Map<number, { dots: number[]; cover: number; far: number }>();
  let touchedCount = 0;
  // One dot of room on each side takes what rounding noise lets stick out.
  coverageRuns(shape.walls, middle.x + 1, middle.y + 1, columns + 2, rows + 2, (row, first, last, share) => {
    const r = row - 1;
    if (share <= EDGE || r < 0 || r >= rows) return;
    const from = Math.max(0, first - 1);
    const to = Math.min(columns, last - 1);
    if (from >= to) return;
    touched.fill(1, r * columns + from, r * columns + to);
    touchedCount += to - from;
    if (share >= 1 - EDGE) return;
    for (let c = from; c < to; c += 1) {
      const dot = r * columns + c;
      // Twice the distance from the middle is a whole number for every symmetric phase.
      const [dx, dy] = [2 * (c + 0.5 - middle.x), 2 * (r + 0.5 - middle.y)];
      const key = orbitKey(found, dx, dy, dot);
      const orbit = orbits.get(key);
      if (orbit) orbit.dots.push(dot);
      else orbits.set(key, { dots: [dot], cover: share, far: dx * dx + dy * dy });
    }
  });
  const outer = [...orbits.values()].sort((p, q) => step(p.cover) - step(q.cover) || q.far - p.far);
  const orbitAt = new Map<number, number>();
  for (let k = 0; k < outer.length; k += 1) for (const dot of outer[k].dots) orbitAt.set(dot, k);
  return { columns, rows, middle, touched, touchedCount, outer, orbitAt };
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

import { boxIndex } from '../geometry/box-index.js';
import { nearestBetween } from '../geometry/walls.js';
import type { PixelShape } from './shape.js';
import type { Placed } from './stamp.js';

/** Two openings that face each other across film, along one axis. */
export interface Web {
  /** Positions among the openings; `first` lies on the left or above. */
  readonly first: number;
  readonly second: number;
  readonly axis: 'x' | 'y';
  /** Film between their boxes, dots. */
  readonly asked: number;
}

/** A web may come out narrower than asked by this much, dots. */
export const WEB_SLACK = 0.5;

/**
 * Webs between the boxes of openings that face each other along X or Y with nothing in between.
 *
 * @param most - wider ones are left out, dots
 */
export function findWebs(shapes: readonly PixelShape[], most: number): Web[] {
  const index = boxIndex(shapes);
  const webs: Web[] = [];
  shapes.forEach((p, i) => {
    for (const axis of ['x', 'y'] as const) {
      const ahead = axis === 'x' ? { ...boxOf(p), maxX: p.maxX + most } : { ...boxOf(p), maxY: p.maxY + most };
      // What lies between p and q is nearer to p than q is, and faces it too.
      const facing = index.near(ahead).filter((k) => k !== i && across(p, shapes[k], axis) > 0);
      facing.sort((j, k) => gap(p, shapes[j], axis) - gap(p, shapes[k], axis) || j - k);
      facing.forEach((j, place) => {
        const q = shapes[j];
        const asked = gap(p, q, axis);
        if (asked <= 0 || asked > most) return;
        for (let k = 0; k < place; k += 1) if (liesBetween(shapes[facing[k]], p, q, axis)) return;
        webs.push({ first: i, second: j, axis, asked });
      });
    }
  });
  const [low, high] = [Math.min, Math.max].map((pick) => (web: Web) => pick(web.first, web.second));
  return webs.sort((p, q) => low(p) - low(q) || high(p) - high(q));
}

const boxOf = ({ minX, minY, maxX, maxY }: PixelShape) => ({ minX, minY, maxX, maxY });

/** Film from p on to q along an axis, dots; below 0 where q does not lie ahead. */
function gap(p: PixelShape, q: PixelShape, axis: 'x' | 'y'): number {
  return axis === 'x' ? q.minX - p.maxX : q.minY - p.maxY;
}

/** What two boxes share across an axis, dots. */
function across(p: PixelShape, q: PixelShape, axis: 'x' | 'y'): number {
  return axis === 'x'
    ? Math.min(p.maxY, q.maxY) - Math.max(p.minY, q.minY)
    : Math.min(p.maxX, q.maxX) - Math.max(p.minX, q.minX);
}

/** Whether a third opening reaches into the film between two: their gap along the axis, what they share across it. */
function liesBetween(k: PixelShape, p: PixelShape, q: PixelShape, axis: 'x' | 'y'): boolean {
  const lowX = axis === 'x' ? Math.min(p.maxX, q.maxX) : Math.max(p.minX, q.minX);
  const highX = axis === 'x' ? Math.max(p.minX, q.minX) : Math.min(p.maxX, q.maxX);
  const lowY = axis === 'y' ? Math.min(p.maxY, q.maxY) : Math.max(p.minY, q.minY);
  const highY = axis === 'y' ? Math.max(p.minY, q.minY) : Math.min(p.maxY, q.maxY);
  return k.minX < highX && k.maxX > lowX && k.minY < highY && k.maxY > lowY;
}

/** By how much a web of dots is narrower than asked; below 0 when it is wider. */
export function webDeficit(web: Web, placed: readonly Placed[]): number {
  const p = placed[web.first];
  const q = placed[web.second];
  const dots = web.axis === 'x' ? q.column - p.column - p.stamp.width : q.row - p.row - p.stamp.height;
  return web.asked - dots;
}

/** Film between two openings that is at least this wide, in dots, keeps at least one dot everywhere. */
const KEPT_FILM_DOTS = 0.5;

/**
 * Pairs of openings whose dots touch, be it at a corner, although the artwork has film between them.
 *
 * @returns positions, the opening with more dots first
 */
export function findMerged(shapes: readonly PixelShape[], placed: readonly Placed[]): [number, number][] {
  const boxes = placed.map(({ column, row, stamp }) => ({
    minX: column,
    minY: row,
    maxX: column + stamp.width,
    maxY: row + stamp.height,
  }));
  const index = boxIndex(boxes);
  const merged: [number, number][] = [];
  boxes.forEach((box, i) => {
    if (placed[i].stamp.count === 0) return;
    for (const j of index.near(box, 0)) {
      if (j <= i || placed[j].stamp.count === 0 || !touch(placed[i], placed[j])) continue;
      const walls = (s: PixelShape) => ({ xy: s.walls, box: s });
      const nearest = nearestBetween(walls(shapes[i]), walls(shapes[j]), 4);
      if (nearest && nearest.distanceMm < KEPT_FILM_DOTS) continue;
      merged.push(placed[i].stamp.count >= placed[j].stamp.count ? [i, j] : [j, i]);
    }
  });
  return merged;
}

/** Whether two stamps share a dot or have dots side by side or corner to corner. */
function touch(p: Placed, q: Placed): boolean {
  const from = Math.max(p.row, q.row - 1);
  const to = Math.min(p.row + p.stamp.height, q.row + q.stamp.height + 1);
  for (let row = from; row < to; row += 1) {
    for (let other = row - 1; other <= row + 1; other += 1) {
      if (runsTouch(p, row - p.row, q, other - q.row)) return true;
    }
  }
  return false;
}

function runsTouch(p: Placed, pRow: number, q: Placed, qRow: number): boolean {
  if (qRow < 0 || qRow >= q.stamp.height) return false;
  const [a, b] = [p.stamp, q.stamp];
  for (let i = a.rowStart[pRow]; i < a.rowStart[pRow + 1]; i += 2) {
    for (let j = b.rowStart[qRow]; j < b.rowStart[qRow + 1]; j += 2) {
      const apart = p.column + a.runs[i] > q.column + b.runs[j + 1] || q.column + b.runs[j] > p.column + a.runs[i + 1];
      if (!apart) return true;
    }
  }
  return false;
}

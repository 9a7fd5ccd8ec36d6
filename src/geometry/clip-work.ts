import type { Path64 } from 'clipper2-ts';
import type { Box, PerAxis, Point, Ring } from './types.js';
import { budgetInForce } from './work-budget.js';

/** Fewer corners than this cost too little to be counted one by one. */
const FEW_CORNERS = 200;
/** What a crossing costs, in visits of a wall on a level. */
const CROSSING = 13;
/** What a corner of what is clipped costs at least, in the same unit. */
const CLIPPED_CORNER = 6;

/** Counts a boolean operation towards the limit in force, before it is done. */
export function payForClip(paths: readonly Path64[]): void {
  const budget = budgetInForce();
  if (!budget) return;
  const corners = paths.reduce((sum, path) => sum + path.length, 0);
  if (corners < FEW_CORNERS) {
    budget.spend(corners * CLIPPED_CORNER);
    return;
  }
  const cost = ({ visits, crossings }: SweepWork): number => visits + crossings * CROSSING;
  const { rest } = budget;
  budget.spend(corners * CLIPPED_CORNER + cost(sweepWork(paths, (work) => cost(work) > rest)));
}

/** What a corner of the moved outline costs, in the units of `WorkBudget`; 2 us. */
const MOVED_CORNER = 40;
/** What a call costs at least. */
const CALL = 400;
/**
 * Counts a movement of walls towards the limit in force, before it is done.
 *
 * @param arcSteps - corners of a full circle, where arcs are put; 2 for mitred corners
 */
export function payForMove(rings: readonly Path64[], delta: number, arcSteps: number): void {
  const budget = budgetInForce();
  if (!budget) return;
  let corners = 0;
  let made = 0;
  for (const ring of rings) {
    corners += ring.length;
    made += cornersMade(ring, delta > 0 ? 1 : -1, arcSteps);
  }
  budget.spend(CALL + made * MOVED_CORNER);
  if (corners < FEW_CORNERS) return;
  // The moved outline has more levels than the one that is known, and about as many walls on each.
  const finer = made / corners;
  const { rest } = budget;
  // Walls of a moved outline cross and turn at nearly every level, which doubles the price of a visit.
  // Beside each corner without an arc the outline has a loop, whose place is looked for.
  const cost = ({ visits, searches }: SweepWork): number => 2 * visits * finer + 3 * searches;
  budget.spend(cost(sweepWork(rings, (work) => cost(work) > rest)));
}

/** An arc at each corner that turns towards the side to which the walls move, three corners at any other. */
function cornersMade(ring: Path64, side: 1 | -1, arcSteps: number): number {
  let made = 0;
  let before = ring[ring.length - 1];
  for (let i = 0; i < ring.length; i += 1) {
    const at = ring[i];
    const next = ring[i + 1 === ring.length ? 0 : i + 1];
    const [ux, uy, vx, vy] = [at.x - before.x, at.y - before.y, next.x - at.x, next.y - at.y];
    const cross = ux * vy - uy * vx;
    const turn = Math.atan2(cross, ux * vx + uy * vy) * side;
    made += turn > 0 ? 1 + Math.ceil((turn / (2 * Math.PI)) * arcSteps) : 3;
    before = at;
  }
  return made;
}

/** What a sweep over some rings has to do. */
export interface SweepWork {
  /** Walls met on all levels at which a wall begins or ends, summed. */
  readonly visits: number;
  /** Pairs of walls that cross; those that only touch are left out. */
  readonly crossings: number;
  /** Walls met where each wall begins, summed: what the sweep looks at to find the places of walls. */
  readonly searches: number;
}

/** Grid coordinates stay below this. */
const FAR = 2 ** 26;

/**
 * Counts what a clipper's sweep over the rings will have to do, in a small part of the time that it takes.
 *
 * @param rings - grid coordinates, within 2^26
 * @param enough - counting may stop when this says so
 */
export function sweepWork(rings: readonly Path64[], enough: (work: SweepWork) => boolean): SweepWork {
  const count = rings.reduce((sum, ring) => sum + ring.length, 0);
  const [ax, ay, bx, by] = [0, 1, 2, 3].map(() => new Float64Array(count));
  // Sorted as plain numbers, lower end and place in one: a comparing function costs more than the sweep.
  const order = new Float64Array(count);
  let n = 0;
  for (const ring of rings) {
    for (let i = 0, last = ring[ring.length - 1]; i < ring.length; last = ring[i], i += 1) {
      const [low, high] = ring[i].y < last.y ? [ring[i], last] : [last, ring[i]];
      ax[n] = low.x;
      ay[n] = low.y;
      bx[n] = high.x;
      by[n] = high.y;
      order[n] = (low.y + FAR) * FAR + n;
      n += 1;
    }
  }
  order.sort();
  const open = new Uint32Array(count);
  let size = 0;
  let visits = 0;
  let crossings = 0;
  let searches = 0;
  let level = Number.NaN;
  for (const key of order) {
    const i = key % FAR;
    const px = ax[i];
    const py = ay[i];
    const qx = bx[i];
    const qy = by[i];
    const left = Math.min(px, qx);
    const right = Math.max(px, qx);
    let kept = 0;
    for (let k = 0; k < size; k += 1) {
      const j = open[k];
      if (by[j] < py) continue;
      open[kept] = j;
      kept += 1;
      const rx = ax[j];
      const sx = bx[j];
      if ((rx > right && sx > right) || (rx < left && sx < left)) continue;
      const ry = ay[j];
      const sy = by[j];
      const d1 = (qx - px) * (ry - py) - (qy - py) * (rx - px);
      const d2 = (qx - px) * (sy - py) - (qy - py) * (sx - px);
      if (d1 === 0 || d2 === 0 || d1 > 0 === d2 > 0) continue;
      const d3 = (sx - rx) * (py - ry) - (sy - ry) * (px - rx);
      const d4 = (sx - rx) * (qy - ry) - (sy - ry) * (qx - rx);
      if (d3 !== 0 && d4 !== 0 && d3 > 0 !== d4 > 0) crossings += 1;
    }
    open[kept] = i;
    size = kept + 1;
    searches += size;
    if (py === level) continue;
    // There are about as many upper ends as lower ones.
    visits += 2 * size;
    level = py;
    if (enough({ visits, crossings, searches })) break;
  }
  return { visits, crossings, searches };
}

/** Integer grid used inside the clipper: a local origin and a step that keep products of coordinates exact. */
export interface Grid {
  readonly x0: number;
  readonly y0: number;
  /** Grid steps per mm. */
  readonly scale: number;
}

// Products of two grid coordinates must stay below 2^53; 2^25 leaves a bit for sums. 2^20 steps/mm is about 1 nm.
const MAX_COORDINATE = 2 ** 25;
const MAX_SCALE = 2 ** 20;

/** The finest power of two that a box allows; for offsets. */
export function gridFor(box: Box): Grid {
  const half = Math.max(box.maxX - box.minX, box.maxY - box.minY, 1e-6) / 2;
  const scale = Math.min(MAX_SCALE, 2 ** Math.floor(Math.log2(MAX_COORDINATE / half)));
  return { x0: (box.minX + box.maxX) / 2, y0: (box.minY + box.maxY) / 2, scale };
}

export function toPath({ x0, y0, scale }: Grid, ring: Ring): Path64 {
  return withoutSpikes(ring.map(([x, y]) => ({ x: Math.round((x - x0) * scale), y: Math.round((y - y0) * scale) })));
}

/**
 * A path without points from which it goes straight back, which rounding makes of steps of a nanometre: at a level spike
 * the clipper may lose half of what the path goes around (its original in C++ does not).
 */
function withoutSpikes(path: Path64): Path64 {
  const n = path.length;
  if (!path.some((point, i) => isSpike(path[(i + n - 1) % n], point, path[(i + 1) % n]))) return path;
  const kept: Path64 = [];
  for (const point of path) {
    while (kept.length > 1 && isSpike(kept[kept.length - 2], kept[kept.length - 1], point)) kept.pop();
    kept.push(point);
  }
  let from = 0;
  for (let end = kept.length; end - from > 2; end = kept.length) {
    if (isSpike(kept[end - 2], kept[end - 1], kept[from])) kept.pop();
    else if (isSpike(kept[end - 1], kept[from], kept[from + 1])) from += 1;
    else break;
  }
  return kept.slice(from);
}

/** Whether b lies where a path turns straight back, or where it stays. */
function isSpike(a: PerAxis, b: PerAxis, c: PerAxis): boolean {
  const ux = b.x - a.x;
  const uy = b.y - a.y;
  const vx = c.x - b.x;
  const vy = c.y - b.y;
  return ux * vy === uy * vx && ux * vx + uy * vy <= 0;
}

const DECIMAL_STEPS_PER_MM = [1e6, 5e5, 2e5, 1e5, 5e4, 2e4, 1e4, 1e3, 1e2];
/** Lifts ties, which sums such as x + w/2 hit often, over the rounding noise of doubles. */
const TIE_BIAS = 1e-3;

/**
 * A decimal grid; for unions. Layers are written on decimal grids, and with one in the clipper too the edges of two
 * abutting pads land on the same step, whatever rounding their sums went through.
 */
export function decimalGridFor(box: Box): Grid {
  const half = Math.max(box.maxX - box.minX, box.maxY - box.minY) / 2;
  const scale = DECIMAL_STEPS_PER_MM.find((steps) => half * steps < MAX_COORDINATE) ?? 1;
  return { x0: Math.round((box.minX + box.maxX) / 2), y0: Math.round((box.minY + box.maxY) / 2), scale };
}

export function toDecimalPath({ x0, y0, scale }: Grid, ring: Ring): Path64 {
  return withoutSpikes(
    ring.map(([x, y]) => ({
      x: Math.floor((x - x0) * scale + 0.5 + TIE_BIAS),
      y: Math.floor((y - y0) * scale + 0.5 + TIE_BIAS),
    })),
  );
}

export function fromPath({ x0, y0, scale }: Grid, path: Path64): Ring {
  return path.map(({ x, y }): Point => [x / scale + x0, y / scale + y0]);
}

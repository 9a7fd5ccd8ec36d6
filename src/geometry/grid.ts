import type { Path64 } from 'clipper2-ts';
import type { Box, Point, Ring } from './types.js';

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
  return ring.map(([x, y]) => ({ x: Math.round((x - x0) * scale), y: Math.round((y - y0) * scale) }));
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
  return ring.map(([x, y]) => ({
    x: Math.floor((x - x0) * scale + 0.5 + TIE_BIAS),
    y: Math.floor((y - y0) * scale + 0.5 + TIE_BIAS),
  }));
}

export function fromPath({ x0, y0, scale }: Grid, path: Path64): Ring {
  return path.map(({ x, y }): Point => [x / scale + x0, y / scale + y0]);
}

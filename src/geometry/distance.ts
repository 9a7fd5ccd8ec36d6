import type { Point } from './types.js';

/** How far two points lie apart. */
export const distance = (p: Point, q: Point): number => Math.hypot(p[0] - q[0], p[1] - q[1]);

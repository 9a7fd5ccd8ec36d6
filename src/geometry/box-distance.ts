import type { Box } from './types.js';

/** Distance between two boxes; 0 when they overlap. */
export function boxDistance(p: Box, q: Box): number {
  const dx = Math.max(0, p.minX - q.maxX, q.minX - p.maxX);
  const dy = Math.max(0, p.minY - q.maxY, q.minY - p.maxY);
  return dx === 0 ? dy : dy === 0 ? dx : Math.sqrt(dx * dx + dy * dy);
}

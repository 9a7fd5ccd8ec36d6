import { rectangle, solid } from '../geometry/shapes.js';
import type { Box, Opening } from '../geometry/types.js';

/** Distance of a mark's inner edge from the board's edge, mm: the board's edge shows as an even line of light. */
export const MARK_CLEARANCE_MM = 0.3;
const ARM_WIDTH_MM = 0.5;
const ARM_LENGTH_MM = 5;
const TICK_LENGTH_MM = 3;

/** How far marks reach from the board, mm. */
export const MARK_REACH_MM = MARK_CLEARANCE_MM + ARM_WIDTH_MM;

/** Four angles that hug the corners of the board from outside, to lay the film on by eye. */
export function cornerMarks(board: Box): Opening[] {
  const inner = MARK_CLEARANCE_MM;
  const outer = MARK_REACH_MM;
  const length = Math.min(ARM_LENGTH_MM, (board.maxX - board.minX) / 3, (board.maxY - board.minY) / 3);
  const corners: [number, number, 1 | -1, 1 | -1][] = [
    [board.minX, board.minY, 1, 1],
    [board.maxX, board.minY, -1, 1],
    [board.maxX, board.maxY, -1, -1],
    [board.minX, board.maxY, 1, -1],
  ];
  return corners.map(([x, y, sx, sy]) => {
    const ring: [number, number][] = [
      [x - sx * outer, y - sy * outer],
      [x + sx * length, y - sy * outer],
      [x + sx * length, y - sy * inner],
      [x - sx * inner, y - sy * inner],
      [x - sx * inner, y + sy * length],
      [x - sx * outer, y + sy * length],
    ];
    return solid(sx * sy > 0 ? ring : ring.toReversed());
  });
}

/** Narrow slots along the middle of each side, in line with the corner marks. */
export function outlineTicks(board: Box, widthMm: number): Opening[] {
  const cx = (board.minX + board.maxX) / 2;
  const cy = (board.minY + board.maxY) / 2;
  const half = TICK_LENGTH_MM / 2;
  const near = MARK_CLEARANCE_MM;
  return [
    rectangle(cx - half, board.minY - near - widthMm, cx + half, board.minY - near),
    rectangle(cx - half, board.maxY + near, cx + half, board.maxY + near + widthMm),
    rectangle(board.minX - near - widthMm, cy - half, board.minX - near, cy + half),
    rectangle(board.maxX + near, cy - half, board.maxX + near + widthMm, cy + half),
  ].map(solid);
}

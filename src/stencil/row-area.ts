import type { Stamp } from '../dots/stamp.js';
import type { Reach } from './bands.js';

/** Whether every row of a stamp is one run that touches the next one, corners counting. */
export function isConnectedRow({ height, rowStart, runs }: Stamp): boolean {
  if (rowStart[height] !== 2 * height) return false;
  for (let r = 1; r < height; r += 1) {
    if (runs[2 * r] > runs[2 * r - 1] || runs[2 * r + 1] < runs[2 * r - 2]) return false;
  }
  return height > 0;
}

/** Lines a dot along which the area is summed up. */
const LINES = 4;

/** Area that the beam burns for a stamp of one run a row, dots squared: rows of dots grown by the beam, line by line. */
export function singleRunArea({ height, runs }: Stamp, { halfWidth, halfHeight, lean }: Reach): number {
  const near = Math.ceil(halfHeight);
  let area = 0;
  for (let line = 0; line < LINES; line += 1) {
    const within = (line + 0.5) / LINES;
    // How far the beam reaches, and leans, on this line of a row, from the row that lies so many rows further down.
    const reach: number[] = [];
    const shift: number[] = [];
    for (let away = -near; away <= near; away += 1) {
      const dy = away > 0 ? within - away : away < 0 ? within - away - 1 : 0;
      const share = dy === 0 ? 0 : dy / halfHeight;
      reach.push(Math.abs(share) > 1 ? Number.NaN : halfWidth * Math.sqrt(1 - share * share));
      shift.push(lean * dy);
    }
    for (let row = -near; row < height + near; row += 1) {
      let [left, right] = [Infinity, -Infinity];
      for (let i = 0; i <= 2 * near; i += 1) {
        const r = row + i - near;
        if (r < 0 || r >= height || Number.isNaN(reach[i])) continue;
        left = Math.min(left, runs[2 * r] + shift[i] - reach[i]);
        right = Math.max(right, runs[2 * r + 1] + shift[i] + reach[i]);
      }
      if (right > left) area += right - left;
    }
  }
  return area / LINES;
}

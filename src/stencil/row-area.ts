import type { Stamp } from '../dots/stamp.js';
import type { BeamShape } from './beam-shape.js';

/** Whether every row of a stamp is one run that touches the next one, corners counting. */
export function isConnectedRow({ height, rowStart, runs }: Stamp): boolean {
  if (rowStart[height] !== 2 * height) return false;
  for (let r = 1; r < height; r += 1) {
    if (runs[2 * r] > runs[2 * r - 1] || runs[2 * r + 1] < runs[2 * r - 2]) return false;
  }
  return height > 0;
}

/** A level line within a dot, and how much of the dot's height it stands for. */
interface Line {
  readonly at: number;
  readonly weight: number;
}

/** Gauss and Legendre's three lines for an interval from 0 to 1. */
const GAUSS: readonly Line[] = [
  { at: 0.5 - Math.sqrt(0.15), weight: 5 / 18 },
  { at: 0.5, weight: 4 / 9 },
  { at: 0.5 + Math.sqrt(0.15), weight: 5 / 18 },
];

/**
 * Lines within a step of height along which the area of grown steps is summed up: what is burnt begins and ends where a
 * step's edge lies a beam away, and is smooth in between.
 */
export function linesWithin(step: number, { halfHeight, filmDots }: BeamShape): Line[] {
  const beyond = halfHeight - filmDots;
  const part = beyond - Math.floor(beyond / step) * step;
  const cuts = [0, filmDots, part, step - part, step - filmDots, step].sort((p, q) => p - q);
  return cuts.slice(1).flatMap((to, i) => {
    const [from, height] = [cuts[i], to - cuts[i]];
    return height > 1e-9 ? GAUSS.map(({ at, weight }) => ({ at: from + at * height, weight: weight * height })) : [];
  });
}

/** Area that the beam burns for a stamp of one run a row, dots squared: rows of dots grown by the beam, line by line. */
export function singleRunArea({ width, height, runs }: Stamp, beam: BeamShape): number {
  const { halfWidth, halfHeight, lean, filmDots } = beam;
  if (filmDots === 0 && isFull(width, height, runs)) {
    const across = Math.hypot(halfWidth, lean * halfHeight);
    return width * height + 2 * width * halfHeight + 2 * height * across + Math.PI * halfWidth * halfHeight;
  }
  const near = Math.ceil(halfHeight);
  let area = 0;
  for (const { at, weight } of linesWithin(1, beam)) {
    // How far the beam reaches, and leans, on this line of a row, from the row that lies so many rows further down.
    const reach: number[] = [];
    const shift: number[] = [];
    for (let away = -near; away <= near; away += 1) {
      const above = away + filmDots;
      const dy = at < above ? at - above : Math.max(0, at - away - 1 + filmDots);
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
      if (right > left) area += weight * (right - left);
    }
  }
  return area;
}

/** Whether every row is burnt from end to end. */
function isFull(width: number, height: number, runs: Stamp['runs']): boolean {
  for (let r = 0; r < height; r += 1) if (runs[2 * r] !== 0 || runs[2 * r + 1] !== width) return false;
  return true;
}

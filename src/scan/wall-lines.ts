import { type MeasuredEdge, overRows, rowPlaces } from './edge.js';
import { middleProfile, plateau, type Strip } from './strip.js';

/** Half of what is summed about a wall's line, mm. */
const HALF_LINE_MM = 0.07;
const THERE = 0.2;

/**
 * Middles of the two dark lines that the walls of an opening in clear film draw, one on each side of the strip's middle.
 *
 * @returns `missing` when there is no line; undefined when the two run into each other or can't be told
 */
export function wallLines(
  strip: Strip,
  halfMm: number,
  roomMm: number,
  lineDepth: number | undefined,
): { readonly low: MeasuredEdge; readonly high: MeasuredEdge; readonly depth: number } | 'missing' | undefined {
  const profile = middleProfile(strip);
  const ends = strip.firstMm + (strip.columns - 1) * strip.stepMm;
  const ground =
    ((plateau(profile, strip, strip.firstMm, strip.firstMm + roomMm * 0.3) ?? Number.NaN) +
      (plateau(profile, strip, ends - roomMm * 0.3, ends) ?? Number.NaN)) /
    2;
  if (Number.isNaN(ground)) return undefined;
  const found = [-1, 1].map((side) => {
    let best = -1;
    for (let i = 0; i < strip.columns; i += 1) {
      const s = strip.firstMm + i * strip.stepMm;
      if (side * s < 0 || Math.abs(s) > halfMm + Math.min(0.18, 0.6 * roomMm)) continue;
      if (best < 0 || profile[i] < profile[best]) best = i;
    }
    return best;
  });
  if (found.some((i) => i < 0)) return undefined;
  const depth = Math.min(...found.map((i) => ground - profile[i]));
  if (!(depth > Math.max(6, THERE * (lineDepth ?? 0)))) return 'missing';
  const [p, q] = found.map((i) => strip.firstMm + i * strip.stepMm);
  // Two lines that run into each other have no middles of their own.
  if (q - p < 2 * HALF_LINE_MM) return undefined;
  const [low, high] = [p, q].map((place) => lineMiddle(strip, place, ground));
  return low && high ? { low, high, depth } : undefined;
}

function lineMiddle(strip: Strip, near: number, ground: number): MeasuredEdge | undefined {
  const first = Math.max(0, Math.round((near - HALF_LINE_MM - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 1, Math.round((near + HALF_LINE_MM - strip.firstMm) / strip.stepMm));
  const middles = Array.from({ length: strip.rows }, (_, j) => {
    let [sum, moment] = [0, 0];
    for (let i = first; i <= last; i += 1) {
      const dark = ground - strip.levels[j * strip.columns + i];
      sum += dark;
      moment += dark * (strip.firstMm + i * strip.stepMm - near);
    }
    if (!(sum > 0)) return undefined;
    const place = near + moment / sum;
    return Math.abs(place - near) < HALF_LINE_MM ? place : undefined;
  });
  return overRows(rowPlaces(strip), middles, strip, true);
}

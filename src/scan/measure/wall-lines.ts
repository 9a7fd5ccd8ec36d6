import { type MeasuredEdge, overRows, rowPlaces } from './edge.js';
import { middleProfile, type Strip } from './strip.js';

/** Lines that are nearer to each other than twice this, mm, run into each other. */
const HALF_LINE_MM = 0.07;
/** Half of what is summed about a wall's line, mm, and how often that follows it. */
const WINDOW_MM = 0.08;
const FOLLOWED = 4;
const THERE = 0.2;
/** So much of a strip is darker than what is clear. */
const CLEAR_SHARE = 0.6;

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
  // Film and openings look alike, and lines, those of neighbours too, are the small and dark part.
  const ground = Float64Array.from(profile).sort()[Math.floor(CLEAR_SHARE * profile.length)];
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
  const lines = [p, q].map((place) => lineMiddle(strip, place, ground));
  const [low, high] = lines.map((line, i) => line && withDirt(line, lines[1 - i]));
  return low && high ? { low, high, depth } : undefined;
}

/** The two walls of an opening draw lines alike; one that is darker than the other by more than this has a hair beside it. */
const DIRTY_SHARE = 1.25;

/** By how far dirt beside a line may have drawn its middle: as its share of what is dark within the window. */
function withDirt({ edge, darkness }: Line, other: Line | undefined): MeasuredEdge {
  const share = darkness / (other?.darkness ?? darkness);
  return share > DIRTY_SHARE ? { ...edge, uMm: Math.hypot(edge.uMm, WINDOW_MM * (1 - 1 / share)), share: 0 } : edge;
}

interface Line {
  readonly edge: MeasuredEdge;
  /** All that is dark within its window, on average over the rows. */
  readonly darkness: number;
}

/** A window that ends softly and follows the line: what a hard one cuts off draws the middle to its own by up to half a dot. */
function lineMiddle(strip: Strip, near: number, ground: number): Line | undefined {
  let darkness = 0;
  const middles = Array.from({ length: strip.rows }, (_, j) => {
    let place = near;
    for (let round = 0; round < FOLLOWED; round += 1) {
      const first = Math.max(0, Math.ceil((place - WINDOW_MM - strip.firstMm) / strip.stepMm));
      const last = Math.min(strip.columns - 1, Math.floor((place + WINDOW_MM - strip.firstMm) / strip.stepMm));
      let [sum, moment] = [0, 0];
      for (let i = first; i <= last; i += 1) {
        const far = strip.firstMm + i * strip.stepMm - place;
        const dark = (1 - (far / WINDOW_MM) ** 2) * (ground - strip.levels[j * strip.columns + i]);
        sum += dark;
        moment += dark * far;
      }
      if (!(sum > 0)) return undefined;
      place += moment / sum;
      if (!(Math.abs(place - near) < HALF_LINE_MM)) return undefined;
      if (round === FOLLOWED - 1) darkness += sum / strip.rows;
    }
    return place;
  });
  const edge = overRows(rowPlaces(strip), middles, true);
  return edge && { edge, darkness };
}

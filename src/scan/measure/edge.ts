import { grouped } from '../../kept.js';
import { robustLine } from '../picture/robust.js';
import { columnsWithin, crossingNear, middleProfile, type Strip } from './strip.js';

/** What was found of one length or place over all profiles. mm of the scanner. */
export interface MeasuredEdge {
  readonly mm: number;
  /** Standard uncertainty of `mm`, from the scatter along the edge. */
  readonly uMm: number;
  /** Scatter of one profile: raggedness, noise. */
  readonly spreadMm: number;
  /** Share of the profiles that spoke for it. */
  readonly share: number;
}

/** Burnt walls wander over about this length: neighbours nearer than that say the same. */
const WANDER_MM = 0.1;
/** What nobody sees of an edge, mm. */
const LEAST_MM = 0.00015;
/** Rows are a dot apart, and a curve between dots makes their noise look smaller than it is by this factor. */
const SMOOTHED = 1.25;
/** Share of a dot by which a cubic between dots misses an edge that is as soft as a dot; worked out on exact ones. */
const GRID = 0.018;

/** How far an edge may seem off because of where it lies between the dots, mm: along a slanted edge that averages out. */
const gridMm = ({ stepMm, phases }: Strip, sigmaMm: number): number =>
  (GRID * (2 * stepMm) ** 3) / sigmaMm ** 2 / Math.hypot(1, Math.PI * phases);

/** One value from those of many rows, the odd ones counting less; its uncertainty from blocks of rows. */
function overRows(
  rows: readonly number[],
  values: readonly (number | undefined)[],
  tilted: boolean,
  leastMm = LEAST_MM,
): MeasuredEdge | undefined {
  const t = rows.filter((_, j) => values[j] !== undefined);
  const s = values.filter((value) => value !== undefined);
  if (s.length < Math.max(3, 0.3 * values.length)) return undefined;
  const { at, slope, weights, spread } = robustLine(t, s, tilted && s.length > 8);
  const blocks = grouped([...s.keys()], (i) => Math.floor(t[i] / WANDER_MM)).values();
  const means = [...blocks].flatMap((own) => {
    const weight = own.reduce((sum, i) => sum + weights[i], 0);
    return weight > 0 ? [own.reduce((sum, i) => sum + weights[i] * (s[i] - at - slope * t[i]), 0) / weight] : [];
  });
  const between = Math.sqrt(means.reduce((sum, m) => sum + m * m, 0) / Math.max(1, means.length - 1));
  const count = weights.reduce((sum, w) => sum + w, 0);
  const scatter = Math.max(
    means.length > 2 ? between / Math.sqrt(means.length) : 0,
    (SMOOTHED * spread) / Math.sqrt(Math.max(1, count)),
  );
  return { mm: at, uMm: Math.hypot(scatter, leastMm), spreadMm: spread, share: count / values.length };
}

/** From one edge to another, `mm` apart. */
export const edgeToEdge = (low: MeasuredEdge, high: MeasuredEdge, mm = high.mm - low.mm): MeasuredEdge => ({
  mm,
  uMm: Math.hypot(low.uMm, high.uMm),
  spreadMm: Math.max(low.spreadMm, high.spreadMm),
  share: Math.min(low.share, high.share),
});

const rowPlaces = (strip: Strip): number[] =>
  Array.from({ length: strip.rows }, (_, j) => strip.firstRowMm + j * strip.rowStepMm);

/** Where the edge near a place passes a level, over all rows. */
export function edgeNear(
  strip: Strip,
  level: number,
  near: number,
  room: number,
  rising: boolean,
  sigmaMm: number,
): MeasuredEdge | undefined {
  const found = Array.from({ length: strip.rows }, (_, j) =>
    crossingNear(strip.levels, j * strip.columns, strip, level, near, room, rising),
  );
  return overRows(rowPlaces(strip), found, true, Math.hypot(LEAST_MM, gridMm(strip, sigmaMm)));
}

/**
 * Width by the area under each row's profile between two places: blur moves light about and takes none away.
 *
 * @param base - levels of the ground left and right of it
 * @param full - how far a wide one stands out of the ground, as a factor of it
 */
export function widthByArea(
  strip: Strip,
  from: number,
  to: number,
  base: readonly [number, number],
  height: number,
): MeasuredEdge | undefined {
  const first = Math.max(0, Math.round((from - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 1, Math.round((to - strip.firstMm) / strip.stepMm));
  const widths = Array.from({ length: strip.rows }, (_, j) => {
    let sum = 0;
    for (let i = first; i <= last; i += 1) {
      const part = last === first ? 0 : (i - first) / (last - first);
      const ground = base[0] + part * (base[1] - base[0]);
      const weight = i === first || i === last ? 0.5 : 1;
      sum += weight * (strip.levels[j * strip.columns + i] - ground);
    }
    return (sum * strip.stepMm) / height;
  });
  return overRows(rowPlaces(strip), widths, false);
}

/** Lines that are nearer to each other than twice this, mm, run into each other. */
const HALF_LINE_MM = 0.07;
/** Half of what is summed about a wall's line, mm, and how often that follows it. */
const WINDOW_MM = 0.08;
const FOLLOWED = 4;
const THERE = 0.2;
/** So much of a strip is darker than what is clear. */
const CLEAR_SHARE = 0.6;

/** The two edges of an opening, or of the film between two: places along a strip across it. */
export interface TwoEdges {
  readonly low: MeasuredEdge;
  readonly high: MeasuredEdge;
  readonly width: MeasuredEdge;
}

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
): (TwoEdges & { readonly depth: number }) | 'missing' | undefined {
  const profile = middleProfile(strip);
  // Film and openings look alike, and lines, those of neighbours too, are the small and dark part.
  const ground = Float64Array.from(profile).sort()[Math.floor(CLEAR_SHARE * profile.length)];
  const reach = halfMm + Math.min(0.18, 0.6 * roomMm);
  const found = [-1, 1].map((side) =>
    columnsWithin(strip, (s) => side * s >= 0 && Math.abs(s) <= reach).reduce((best, i) =>
      profile[i] < profile[best] ? i : best,
    ),
  );
  const depth = Math.min(...found.map((i) => ground - profile[i]));
  if (!(depth > Math.max(6, THERE * (lineDepth ?? 0)))) return 'missing';
  const [p, q] = found.map((i) => strip.firstMm + i * strip.stepMm);
  // Two lines that run into each other have no middles of their own.
  if (q - p < 2 * HALF_LINE_MM) return undefined;
  const lines = [p, q].map((place) => lineMiddle(strip, place, ground));
  const [low, high] = lines.map((line, i) => line && withDirt(line, lines[1 - i]));
  return low && high ? { low, high, width: edgeToEdge(low, high), depth } : undefined;
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

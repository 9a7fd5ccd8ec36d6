import { twoSidedNormalP } from '../../fit/statistics/distributions.js';
import { edgeNear, edgeToEdge, type TwoEdges, widthByArea } from './edge.js';
import { columnsWithin, middleProfile, plateau, type Strip } from './strip.js';
import type { EdgeShape } from './tone.js';

/** An opening, or the film between two, as a strip across it shows it. */
export interface Across extends TwoEdges {
  /** Levels of the ground beside it and of what lies between. */
  readonly ground: readonly [number, number];
  readonly inside: number;
  /** Too narrow for a level of its own: measured by area. */
  readonly narrow: boolean;
  /** The two edges by themselves. */
  readonly edges?: readonly EdgeShape[];
}

/** What stands out less than this share of what a wide opening does is not there. */
const THERE = 0.12;
/** Narrower than this many sigma an opening has no level of its own. */
const NARROW = 8;
/** Levels are read so many sigma away from an edge. */
const CLEAR = 3.5;
const PLATEAU_MM = 0.25;
/** Nothing of an edge lies farther from it. */
const EDGE_MM = 0.12;
/** Levels of one column that differ by more are dirt. */
const LIKE = 12;
/** Depth and width of a narrow gap agree to this share, and what that may hide, mm. */
const DEPTH_ROOM = 0.03;
const DIRT_MM = 0.001;
const UNEVEN = 0.03;
/** Levels are whole numbers, and their middles are no finer than this. */
const GROUND_LEVEL = 0.15;
/** Film narrower than this as commanded may have no level of its own left after the cut. */
const WEB_MM = 0.35;
const NO_GAPS: readonly [number, number] = [Number.POSITIVE_INFINITY, Number.POSITIVE_INFINITY];

export interface AcrossOptions {
  /** Half of the width that is expected, mm. */
  readonly halfMm: number;
  /** Ground to the left and right within the strip, mm from the expected edges. */
  readonly roomMm: number;
  /** +1: darker than the ground; -1: lighter. */
  readonly sign: 1 | -1;
  readonly sigmaMm: number;
  /** Level inside of a wide one, from the ground; undefined before it is known. */
  readonly inside?: (ground: number) => number;
  /** Ground left and right up to what else is cut there, as it is expected, mm; without end when nothing is. */
  readonly gapsMm?: readonly [number, number];
}

/** Measures across a strip whose middle is at 0; `missing` when nothing stands out. */
export function measureAcross(strip: Strip, options: AcrossOptions): Across | 'missing' | undefined {
  const { halfMm, roomMm, sign, sigmaMm } = options;
  const profile = middleProfile(strip);
  const ground = outerGround(profile, strip, options);
  if (Number.isNaN(ground[0] + ground[1])) return undefined;
  const between = (ground[0] + ground[1]) / 2;
  const reach = halfMm + Math.min(0.12, 0.5 * roomMm);
  const deepest = columnsWithin(strip, (s) => Math.abs(s) <= reach).reduce((best, i) =>
    sign * (profile[best] - profile[i]) > 0 ? i : best,
  );
  const middle = plateau(profile, strip, -halfMm / 2, halfMm / 2);
  const depth = sign * (between - profile[deepest]);
  const full = options.inside ? sign * (between - options.inside(between)) : 12;
  if (!(depth > THERE * full)) return 'missing';
  const wideGuess = middle !== undefined && sign * (between - middle) > 0.6 * depth;
  const inner = wideGuess ? middle : profile[deepest];
  const start = wideGuess ? Math.round(-strip.firstMm / strip.stepMm) : deepest;
  const half = (g: number): number => (g + inner) / 2;
  const left = walk(profile, start, -1, half(ground[0]), sign);
  const right = walk(profile, start, 1, half(ground[1]), sign);
  if (left === undefined || right === undefined) return undefined;
  const [e0, e1] = [strip.firstMm + left * strip.stepMm, strip.firstMm + right * strip.stepMm];
  const width = e1 - e0;
  if (width >= NARROW * sigmaMm || !options.inside) return wide(strip, profile, [e0, e1], ground, inner, options);
  return narrow(strip, [e0, e1], ground, options.inside(between), depth / full, sigmaMm);
}

/** The ground at the strip's ends, or half-way to what else is cut there. */
function outerGround(
  profile: Float64Array,
  strip: Strip,
  { halfMm, roomMm, sign, gapsMm = NO_GAPS }: AcrossOptions,
): [number, number] {
  const [low, high] = gapsMm.map((gap) => {
    const reach = Math.min(halfMm + roomMm, halfMm + 0.65 * gap);
    return [reach - Math.max(3 * strip.stepMm, 0.3 * (reach - halfMm)), reach];
  });
  const seen = [
    plateau(profile, strip, -low[1], -low[0]) ?? Number.NaN,
    plateau(profile, strip, high[0], high[1]) ?? Number.NaN,
  ];
  // Little or nothing may be left of a narrow web.
  const better = sign * Math.max(sign * seen[0], sign * seen[1]);
  return [gapsMm[0] < WEB_MM ? better : seen[0], gapsMm[1] < WEB_MM ? better : seen[1]];
}

/** Goes outwards from inside to where the profile passes a level; in columns. */
function walk(profile: Float64Array, start: number, step: 1 | -1, level: number, sign: 1 | -1): number | undefined {
  for (let i = start; i + step >= 0 && i + step < profile.length; i += step) {
    const [p, q] = [sign * (profile[i] - level), sign * (profile[i + step] - level)];
    if (p <= 0 && q > 0) return i + (step * p) / (p - q);
  }
  return undefined;
}

function wide(
  strip: Strip,
  profile: Float64Array,
  [e0, e1]: readonly [number, number],
  outer: readonly [number, number],
  inner: number,
  { sign, sigmaMm, halfMm, gapsMm = NO_GAPS }: AcrossOptions,
): Across | undefined {
  const clear = CLEAR * sigmaMm;
  const ends = [strip.firstMm, strip.firstMm + (strip.columns - 1) * strip.stepMm];
  // What is cut next to it grew as it did. Where both blurs meet between them the other side knows the ground better.
  const [filmLow, filmHigh] = gapsMm.map((gap) => Math.min(gap - (e1 - e0 - 2 * halfMm) - clear, clear + PLATEAU_MM));
  const own = [
    plateau(profile, strip, Math.max(ends[0], e0 - filmLow), e0 - clear),
    plateau(profile, strip, e1 + clear, Math.min(ends[1], e1 + filmHigh)),
  ];
  const ground: [number, number] = [own[0] ?? own[1] ?? outer[0], own[1] ?? own[0] ?? outer[1]];
  const middle = (e0 + e1) / 2;
  const insideLow =
    plateau(profile, strip, e0 + clear, Math.max(middle, Math.min(e1 - clear, e0 + clear + PLATEAU_MM))) ?? inner;
  const insideHigh =
    plateau(profile, strip, Math.min(middle, Math.max(e0 + clear, e1 - clear - PLATEAU_MM)), e1 - clear) ?? inner;
  const room = Math.min((e1 - e0) / 2, Math.max(3 * sigmaMm, 0.09));
  const found = [
    edgeNear(strip, (ground[0] + insideLow) / 2, e0, room, sign < 0, sigmaMm),
    edgeNear(strip, (ground[1] + insideHigh) / 2, e1, room, sign > 0, sigmaMm),
  ];
  if (!found[0] || !found[1]) return undefined;
  // Half-way between a wrong ground and the inside is half as wrong.
  const contrast = (ground[0] + ground[1] - insideLow - insideHigh) / 2;
  const wrong = uneven(ground, contrast) + uneven([insideLow, insideHigh], contrast);
  const doubtMm = (wrong * sigmaMm * Math.sqrt(2 * Math.PI)) / 2;
  const [low, high] = [found[0], found[1]].map((edge) => ({ ...edge, uMm: Math.hypot(edge.uMm, doubtMm) }));
  const shapes = [
    shapeAt(profile, strip, low.mm, -1, { inside: insideLow, ground: ground[0] }),
    shapeAt(profile, strip, high.mm, 1, { inside: insideHigh, ground: ground[1] }),
  ];
  // Two blurs that meet tell nothing of one.
  const edges = shapes.filter((_, k) => own[k] !== undefined || (own[0] ?? own[1]) === undefined);
  const inside = (insideLow + insideHigh) / 2;
  return { low, high, width: edgeToEdge(low, high), ground, inside, narrow: false, edges };
}

/** The profile from an opening outwards, as far as an edge reaches. */
function shapeAt(
  profile: Float64Array,
  { stepMm, firstMm, rows, columns, phases, levels: all }: Strip,
  edge: number,
  outwards: 1 | -1,
  levels: Pick<EdgeShape, 'inside' | 'ground'>,
): EdgeShape {
  const at = Math.round((edge - firstMm) / stepMm);
  const reach = Math.round(EDGE_MM / stepMm);
  const seen = Array.from({ length: 2 * reach + 1 }, (_, k) => at + outwards * (k - reach))
    .filter((i) => i >= 0 && i < columns)
    .map((i) => {
      // A middle of whole levels is a whole level; the mean of what lies about it is finer.
      let [sum, count] = [0, 0];
      for (let j = 0; j < rows; j += 1) {
        const level = all[j * columns + i];
        if (Math.abs(level - profile[i]) > LIKE) continue;
        sum += level;
        count += 1;
      }
      return sum / count;
    });
  return { ...levels, stepMm, phases, levels: seen };
}

/** Share of its full depth that a gap keeps under a blur. */
const depthOf = (widthInSigma: number): number => 1 - twoSidedNormalP(widthInSigma / 2);

/** By what share of the contrast the ground differs between the two sides, beyond what light and noise do: a hair lies along one. */
const uneven = ([low, high]: readonly [number, number], contrast: number): number =>
  Math.max(0, Math.abs(low - high) / Math.abs(contrast) - UNEVEN);

function narrow(
  strip: Strip,
  [e0, e1]: readonly [number, number],
  ground: readonly [number, number],
  level: number,
  depthShare: number,
  sigmaMm: number,
): Across | undefined {
  const between = (ground[0] + ground[1]) / 2;
  const reach = 4.5 * sigmaMm + 0.015;
  const ends = [strip.firstMm, strip.firstMm + (strip.columns - 1) * strip.stepMm];
  const [from, to] = [Math.max(ends[0], e0 - reach), Math.min(ends[1], e1 + reach)];
  const byArea = widthByArea(strip, from, to, ground, level - between);
  if (!byArea || !(byArea.mm > 0)) return undefined;
  // How deep a blurred gap is follows from its width. Where the two disagree, dirt lies beside it.
  const apart = Math.abs(depthShare - depthOf(byArea.mm / sigmaMm));
  const beside = (uneven(ground, level - between) * (to - from)) / 4;
  const dirt = Math.hypot(Math.max(0, apart - DEPTH_ROOM) * sigmaMm * Math.sqrt(2 * Math.PI), beside);
  const uGround = (GROUND_LEVEL * (to - from)) / Math.abs(level - between);
  const width = { ...byArea, uMm: Math.hypot(byArea.uMm, uGround, 2 * dirt), share: dirt > DIRT_MM ? 0 : byArea.share };
  const [low, high] = [-0.5, 0.5].map((part) => ({ ...width, mm: (e0 + e1) / 2 + part * width.mm }));
  return { low, high, width, ground, inside: level, narrow: true };
}

import { boxAround } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import type { PerAxis, Point } from '../../geometry/types.js';
import type { Star } from '../find/constellation.js';
import type { GreyPicture } from '../picture/picture.js';
import { medianOf, robustLine } from '../picture/robust.js';
import type { ScannedLength } from '../scanner/scanner.js';
import { middleProfile, readStrip, type Strip } from './strip.js';

/** A rule in a picture: many of its lines, taken as one length. */
export interface ScannedRule {
  readonly length: ScannedLength;
  readonly lines: number;
  /** Its first and last line, pixels. */
  readonly ends: readonly [Point, Point];
}

/** Fewer lines in a row may be something else. */
const LEAST_LINES = 20;
/** A pitch may look different by this, and a line lie off by this share of it. */
const SCALE_ROOM = 0.05;
const OFF = 0.2;
const ALIKE = 0.25;
const WINDOW = 0.35;
/** From one line to the next that is seen. */
const MOST_STEP = 4;
const SAMPLES_A_DOT = 2;
/** What nobody sees of a line's middle, mm. */
const LEAST_U_MM = 0.001;

/** A line, and which one of its row it is. */
interface Numbered {
  readonly n: number;
  readonly star: Star;
}

type Near = (place: Point, roomPx: number) => Star[];

/**
 * Finds a rule by its lines, which lie in a row at one pitch, and measures that pitch over all of them.
 *
 * @param things - what stands out, pixels of the picture
 * @param dots - pixels for a millimetre of the scanner
 * @returns undefined when there is none
 */
export function readRule(
  picture: GreyPicture,
  things: readonly Star[],
  pitchMm: number,
  dots: PerAxis,
): ScannedRule | undefined {
  const pitchPx = (pitchMm * (dots.x + dots.y)) / 2;
  const chain = longestChain(things, pitchPx);
  if (!chain) return undefined;
  const { at, step } = straight(chain);
  const first = chain[0].n;
  const [start] = chain.flatMap(({ n, star }) => (n === 0 ? [star] : []));
  const count = chain[chain.length - 1].n - first;
  const [sx, sy] = [step[0] / dots.x, step[1] / dots.y];
  const stepMm = Math.hypot(sx, sy);
  const across: Point = [step[0] / stepMm, step[1] / stepMm];
  // Lines stand square to their row.
  const along: Point = [(-sy / stepMm) * dots.x, (sx / stepMm) * dots.y];
  const from: Point = [at[0] + first * step[0], at[1] + first * step[1]];
  const halfMm = (0.3 * Math.sqrt(12) * start.radius) / Math.hypot(...along);
  const sample = 1 / (SAMPLES_A_DOT * Math.min(dots.x, dots.y));
  const room = WINDOW * stepMm;
  const strip = readStrip(
    picture,
    { at: from, across, along },
    [-room, count * stepMm + room],
    halfMm,
    sample,
    Math.max(sample, halfMm / 12),
  );
  if (!strip) return undefined;
  const profile = middleProfile(strip);
  const lines = Array.from({ length: count + 1 }, (_, n) => lineAt(strip, profile, n * stepMm, room));
  const seen = lines.flatMap((place, n) => (place === undefined ? [] : [{ n: n - count / 2, place }]));
  if (seen.length < LEAST_LINES) return undefined;
  const line = robustLine(
    seen.map(({ n }) => n),
    seen.map(({ place }) => place),
    true,
  );
  const nominalMm = count * pitchMm;
  const uMm = Math.max(LEAST_U_MM, (line.spread * Math.sqrt(12)) / Math.sqrt(seen.length));
  const end = (n: number): Point => {
    const s = line.at + n * line.slope;
    return [from[0] + s * across[0], from[1] + s * across[1]];
  };
  return {
    length: {
      coupon: 'rule',
      feature: { id: 'rule', kind: 'span', from: [0, 0], to: [nominalMm, 0], nominalMm, say: 'lines of a rule' },
      lengthMm: count * line.slope,
      uMm,
      direction: [sx / stepMm, sy / stepMm],
    },
    lines: seen.length,
    ends: [end(-count / 2), end(count / 2)],
  };
}

/** Of all rows of like things at the pitch the longest one; some lack: the middles of longer lines lie elsewhere, and dirt. */
function longestChain(things: readonly Star[], pitchPx: number): readonly Numbered[] | undefined {
  const index = boxIndex(things, ({ at }) => boxAround(at, 0, 0));
  const near: Near = (place, room) => index.near(boxAround(place, 0, 0), room).map((i) => things[i]);
  const used = new Set<Star>();
  let best: readonly Numbered[] | undefined;
  for (const start of things) {
    if (used.has(start)) continue;
    for (const next of near(start.at, (1 + SCALE_ROOM) * pitchPx)) {
      const step: Point = [next.at[0] - start.at[0], next.at[1] - start.at[1]];
      if (Math.abs(Math.hypot(...step) / pitchPx - 1) > SCALE_ROOM || Math.abs(next.radius / start.radius - 1) > ALIKE)
        continue;
      const [before, after] = ([-1, 1] as const).map((way) => walk(start, step, way, near, pitchPx));
      const members = [...before.reverse(), { n: 0, star: start }, ...after];
      if (members.length <= (best?.length ?? LEAST_LINES - 1)) continue;
      for (const { star } of members) used.add(star);
      best = members;
    }
  }
  return best;
}

function walk(start: Star, step: Point, way: 1 | -1, near: Near, pitchPx: number): Numbered[] {
  const found: Numbered[] = [];
  let [last, lastN, own] = [start, 0, step];
  for (let n = 1; n - lastN <= MOST_STEP; n += 1) {
    const wanted: Point = [last.at[0] + way * (n - lastN) * own[0], last.at[1] + way * (n - lastN) * own[1]];
    const [star] = near(wanted, OFF * pitchPx).filter(({ radius }) => Math.abs(radius / start.radius - 1) < ALIKE);
    if (!star) continue;
    found.push({ n: way * n, star });
    own = [(way * (star.at[0] - start.at[0])) / n, (way * (star.at[1] - start.at[1])) / n];
    [last, lastN] = [star, n];
  }
  return found;
}

function straight(chain: readonly Numbered[]): { readonly at: Point; readonly step: Point } {
  const ns = chain.map(({ n }) => n);
  const [x, y] = [0, 1].map((k) =>
    robustLine(
      ns,
      chain.map(({ star }) => star.at[k]),
      true,
    ),
  );
  return { at: [x.at, y.at], step: [x.slope, y.slope] };
}

/** The middle of a line, darker or lighter than what lies beside it. */
function lineAt(strip: Strip, profile: Float64Array, near: number, room: number): number | undefined {
  const first = Math.max(0, Math.round((near - room - strip.firstMm) / strip.stepMm));
  const last = Math.min(strip.columns - 1, Math.round((near + room - strip.firstMm) / strip.stepMm));
  const window = profile.subarray(first, last + 1);
  const ground = medianOf([...window.subarray(0, window.length / 4), ...window.subarray((3 * window.length) / 4)]);
  let most = 0;
  for (const level of window) if (Math.abs(level - ground) > Math.abs(most)) most = level - ground;
  if (Math.abs(most) < 8) return undefined;
  let [sum, moment] = [0, 0];
  window.forEach((level, i) => {
    // The foot of a line is noise.
    const weight = Math.max(0, (level - ground) / most - 0.15);
    sum += weight;
    moment += weight * (strip.firstMm + (first + i) * strip.stepMm);
  });
  return moment / sum;
}

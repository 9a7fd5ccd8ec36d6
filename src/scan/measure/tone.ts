import { largest } from '../../geometry/bounds.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import { crossingNear } from './strip.js';

/** The levels across one edge, from the opening outwards. */
export interface EdgeShape {
  readonly stepMm: number;
  readonly levels: readonly number[];
  readonly inside: number;
  readonly ground: number;
  /** Over how many dots its rows drift. */
  readonly phases: number;
}

/** How the levels of a picture grow with light where that is no straight line, told by its edges. */
export interface Tone {
  /** Light is the level to this power. */
  readonly gamma: number;
  /** By how much each edge is read too far out as long as the levels are taken for light, mm, and its standard uncertainty. */
  readonly shiftMm: number;
  readonly uShiftMm: number;
}

/** Shares of the way from opening to film at which an edge's two halves are held against each other. */
const FOOT = 0.12;
const SHOULDER = 1 - FOOT;
const FLATTEST = 0.3;
/** Of 2.2 edges alone tell 1.7 to 2.2. What asks for more is openings of few dots, which had been told as 3.1 and made 44 µm wider. */
const STEEPEST = 2.6;
const LEAST_EDGES = 6;
/** Powers that are tried on each side of 1. */
const STEPS = 8;
/** A curve that is no power of the level, and half-ways between few samples, leave this share of the shift. */
const OTHER_CURVES = 0.3;
/** Dots that are large beside the blur make edges lopsided by this share of a dot, times the cube of dot over blur. */
const GRID = 0.008;
/** By this factor the logarithm of a power is found too small at most, as long as levels between dots are not light. */
const MOST_MORE = 1.6;
/** Less than this, mm, is no curve but dirt and rims. */
const LEAST_SHIFT_MM = 0.002;
/** Who was asked for plain levels mostly gives them, even where edges are too few and too coarse to show it, mm. */
const MOST_UNTOLD_MM = 0.004;

/** What edges say of a picture's tone. */
export interface ToneSeen {
  /** Undefined as long as levels may be light. */
  readonly tone?: Tone;
  /** How far an edge may still be off because levels are not light, mm. */
  readonly uMm: number;
}

/**
 * Blur moves light about evenly, so an edge looks alike from both sides, as long as levels are light. A picture that was
 * made for the eye holds light bent by a power (IEC 61966-2-1 is about 2.2): feet are long and shoulders short, and the
 * level half-way is not where half of the light is. The power that makes edges alike again is that of the picture, whatever
 * its file says of itself.
 *
 * @param blurMm - spread of the edges, as a standard deviation
 * @param readAgain - the same edges, their levels read as light by a power: between dots, too, light is what is even
 */
export function toneOf(
  edges: readonly EdgeShape[],
  blurMm: number,
  dotMm: number,
  readAgain: (gamma: number) => readonly EdgeShape[],
): ToneSeen {
  const lop = (gamma: number): number[] => edges.flatMap((edge) => places(edge, gamma)?.lop ?? []);
  if (lop(1).length < LEAST_EDGES) return { uMm: 0 };
  const middle = (gamma: number): number => medianOf(lop(gamma));
  const first = powerOf(middle);
  // What no power puts right is no tone: round walls lean, too.
  if (first === undefined) return { uMm: MOST_UNTOLD_MM };
  const halves = (power: number): number => medianOf(edges.flatMap((edge) => places(edge, power)?.half ?? []));
  const shift = halves(1) - halves(first);
  // Edges of one coupon lie alike on the grid of dots, so that many of them are no help against it.
  const noise = Math.hypot(
    (1.25 * spreadOf(lop(first))) / Math.sqrt(edges.length),
    (GRID * dotMm * (dotMm / blurMm) ** 3) / Math.hypot(1, Math.PI * medianOf(edges.map(({ phases }) => phases))),
  );
  const lean = middle(1) - middle(first);
  const uNoise = Math.abs(lean) > 1e-6 ? Math.abs((shift / lean) * noise) : 0;
  if (Math.abs(shift) < Math.max(LEAST_SHIFT_MM, 4 * uNoise))
    return { uMm: Math.min(MOST_UNTOLD_MM, Math.hypot(shift, uNoise)) };
  const gamma = refined(first, middle(1), (power) =>
    medianOf(readAgain(power).flatMap((edge) => places(edge, 1)?.lop ?? [])),
  );
  const shiftMm = halves(1) - halves(gamma);
  const uMm = Math.hypot(uNoise, OTHER_CURVES * shiftMm);
  return { tone: { gamma, shiftMm, uShiftMm: uMm }, uMm };
}

/** The power nearest to 1 at which edges lean to neither side; undefined where none of them does that. */
function powerOf(leanAt: (gamma: number) => number): number | undefined {
  // Far from the right one edges may stop to lean, too: feet and shoulders are no more among the samples.
  const steps = [0.05, ...Array.from({ length: STEPS }, (_, k) => (k + 1) / STEPS)];
  const sides = [FLATTEST, STEEPEST].map((end) => {
    const logs = [0, ...steps.map((part) => part * Math.log(end))];
    return logs.map((log) => ({ log, lean: leanAt(Math.exp(log)) }));
  });
  if (sides[0][0].lean === 0) return 1;
  for (let k = 1; k <= steps.length; k += 1) {
    const [near, far] = sides.map((side) => side.slice(k - 1, k + 1)).find(([p, q]) => p.lean * q.lean <= 0) ?? [];
    if (near) return between(leanAt, near.log, far.log, near.lean > 0);
  }
  return undefined;
}

/** Between two powers, as logarithms, at which edges lean to either side. */
function between(leanAt: (gamma: number) => number, from: number, to: number, positive: boolean): number {
  let [near, far] = [from, to];
  for (let k = 0; k < 22; k += 1) {
    const at = (near + far) / 2;
    if (leanAt(Math.exp(at)) > 0 === positive) near = at;
    else far = at;
  }
  return Math.exp((near + far) / 2);
}

/** The same by a few secants on readings of all edges, never far from where it was found without them. */
function refined(near: number, leanOfOne: number, leanAt: (gamma: number) => number): number {
  const about = Math.log(near);
  let [x0, y0] = [0, leanOfOne];
  let [x1, y1] = [about, leanAt(near)];
  // Read as that light, too few edges may be left.
  if (Number.isNaN(y1)) return near;
  for (let round = 0; round < 3 && Math.abs(y1) > 0.02 * Math.abs(leanOfOne) && y1 !== y0; round += 1) {
    const share = (x1 - (y1 * (x1 - x0)) / (y1 - y0)) / about;
    [x0, y0] = [x1, y1];
    x1 = about * Math.min(MOST_MORE, Math.max(1 / MOST_MORE, share));
    y1 = leanAt(Math.exp(x1));
    if (Number.isNaN(y1)) return Math.exp(x0);
  }
  return Math.exp(x1);
}

/** The light of each level of one byte. */
export function lightOf(gamma: number): Float32Array {
  return Float32Array.from({ length: 256 }, (_, level) => 255 * (level / 255) ** gamma);
}

/** Where an edge passes half of the light, mm from its first sample, and how lopsided it is about that place. */
function places(
  { levels, stepMm, inside, ground }: EdgeShape,
  gamma: number,
): { half: number; lop: number } | undefined {
  const light = (level: number): number => Math.max(0, level / 255) ** gamma;
  const [from, to] = [light(inside), light(ground)];
  const lit = { levels: levels.map(light), stepMm, inside: from, ground: to };
  const [foot, half, shoulder] = [FOOT, 0.5, SHOULDER].map((share) => placeAt(lit, share));
  if (foot === undefined || half === undefined || shoulder === undefined) return undefined;
  return { half, lop: foot + shoulder - 2 * half };
}

/** Where an edge passes a share of the way from opening to film, mm from its first sample. */
function placeAt({ levels, stepMm, inside, ground }: Omit<EdgeShape, 'phases'>, share: number): number | undefined {
  const strip = { firstMm: 0, stepMm, columns: levels.length };
  const level = inside + share * (ground - inside);
  return crossingNear(levels, 0, strip, level, 0, Number.POSITIVE_INFINITY, ground > inside);
}

/** The blur of an edge as a standard deviation, mm: from a quarter to three quarters of the way it takes 1.349 of them. */
export function blurOf(edge: EdgeShape): number | undefined {
  const [p, q] = [0.25, 0.75].map((share) => placeAt(edge, share));
  return p === undefined || q === undefined ? undefined : Math.max(0, (q - p) / 1.349);
}

/** By how much the film's side of an edge overshoots, as a share of the contrast. */
export const haloOf = ({ levels, inside, ground }: EdgeShape): number =>
  Math.max(0, largest(levels.map((level) => (level - ground) / (ground - inside))));

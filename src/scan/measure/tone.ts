import { medianOf, spreadOf } from '../picture/robust.js';

/** The levels across one edge, from the opening outwards. */
export interface EdgeShape {
  readonly stepMm: number;
  readonly levels: readonly number[];
  readonly inside: number;
  readonly ground: number;
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
const STEEPEST = 3.3;
const LEAST_EDGES = 6;
/** A curve that is no power of the level, and half-ways between few samples, leave this share of the shift. */
const OTHER_CURVES = 0.3;
/** Less than this, mm, is no curve but dirt and rims. */
const LEAST_SHIFT_MM = 0.003;

/**
 * Blur moves light about evenly, so an edge looks alike from both sides, as long as levels are light. A picture that was
 * made for the eye holds light bent by a power (IEC 61966-2-1 is about 2.2): feet are long and shoulders short, and the
 * level half-way is not where half of the light is. The power that makes edges alike again is that of the picture, whatever
 * its file says of itself.
 *
 * @returns undefined when levels are light, or too few edges can be told
 */
export function toneOf(edges: readonly EdgeShape[]): Tone | undefined {
  const lop = (gamma: number): number[] => edges.flatMap((edge) => places(edge, gamma)?.lop ?? []);
  if (lop(1).length < LEAST_EDGES) return undefined;
  const middle = (gamma: number): number => medianOf(lop(gamma));
  let [low, high] = [Math.log(FLATTEST), Math.log(STEEPEST)];
  const rising = middle(STEEPEST) > middle(FLATTEST);
  for (let k = 0; k < 24; k += 1) {
    const at = (low + high) / 2;
    if (middle(Math.exp(at)) > 0 === rising) high = at;
    else low = at;
  }
  const gamma = Math.exp((low + high) / 2);
  const halves = (power: number): number => medianOf(edges.flatMap((edge) => places(edge, power)?.half ?? []));
  const shiftMm = halves(1) - halves(gamma);
  const noise = (1.25 * spreadOf(lop(gamma))) / Math.sqrt(edges.length);
  const lean = middle(1) - middle(gamma);
  const perLop = Math.abs(lean) > 1e-6 ? Math.abs(shiftMm / lean) : 0;
  const uNoise = perLop * noise;
  if (Math.abs(shiftMm) < Math.max(LEAST_SHIFT_MM, 4 * uNoise)) return undefined;
  return { gamma, shiftMm, uShiftMm: Math.hypot(uNoise, OTHER_CURVES * shiftMm) };
}

/** The light of each level of one byte. */
export function lightOf({ gamma }: Tone): Float32Array {
  return Float32Array.from({ length: 256 }, (_, level) => 255 * (level / 255) ** gamma);
}

/** Where an edge passes half of the light, mm from its first sample, and how lopsided it is about that place. */
function places(
  { levels, stepMm, inside, ground }: EdgeShape,
  gamma: number,
): { half: number; lop: number } | undefined {
  const light = (level: number): number => Math.max(0, level / 255) ** gamma;
  const [from, to] = [light(inside), light(ground)];
  const pass = (share: number): number | undefined => {
    const wanted = from + share * (to - from);
    for (let i = 0; i + 1 < levels.length; i += 1) {
      const [p, q] = [light(levels[i]) - wanted, light(levels[i + 1]) - wanted];
      if (p * q <= 0 && p !== q) return stepMm * (i + p / (p - q));
    }
    return undefined;
  };
  const [foot, half, shoulder] = [pass(FOOT), pass(0.5), pass(SHOULDER)];
  if (foot === undefined || half === undefined || shoulder === undefined) return undefined;
  return { half, lop: foot + shoulder - 2 * half };
}

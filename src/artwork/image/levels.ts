/** Brightness of film-or-opening dark and light, and how far noise reaches from them. */
export interface Levels {
  readonly dark: number;
  readonly light: number;
  readonly noise: number;
}

/** How much higher than an even spread over its class a level's peak must stand to count as clear. */
const CLEAR_PEAK = 1.6;
const MAX_NOISE = 24;
/** Pixels close to a level, as a share of those halfway between the levels, from which on they are noise. */
const NOISY = 0.6;

/**
 * Finds the two levels of a picture in its histogram: the peaks on both sides of the best threshold.
 *
 * @param counts - pixels of each brightness; length 256
 * @returns undefined when all pixels are alike
 * @remarks Source: Otsu, "A threshold selection method from gray-level histograms", 1979. The levels themselves are the
 * peaks, not the means, because the pixels on edges are no part of either.
 */
export function findLevels(counts: Float64Array): Levels | undefined {
  const [least, most] = [counts.findIndex((n) => n > 0), counts.findLastIndex((n) => n > 0)];
  if (least < 0 || most <= least) return undefined;
  const split = otsu(counts);
  const dark = peak(counts, least, split, least);
  const light = peak(counts, split + 1, most, most);
  return { dark, light, noise: Math.max(spread(counts, light, -1, dark), spread(counts, dark, 1, light)) };
}

/** Coverage by light for each brightness: linear between the levels, with what noise leaves beside them taken off. */
export function levelTable({ dark, light, noise }: Levels): Uint8Array {
  const table = new Uint8Array(256);
  for (let v = 0; v < 256; v += 1) {
    if (v <= dark + noise) table[v] = 0;
    else if (v >= light - noise) table[v] = 255;
    else table[v] = Math.round(((v - dark) * 255) / (light - dark));
  }
  return table;
}

/** The last brightness of the darker class. */
function otsu(counts: Float64Array): number {
  let total = 0;
  let sum = 0;
  counts.forEach((n, v) => {
    total += n;
    sum += n * v;
  });
  let below = 0;
  let belowSum = 0;
  let best = -1;
  let from = 0;
  let to = 0;
  for (let v = 0; v < 255; v += 1) {
    below += counts[v];
    belowSum += counts[v] * v;
    const above = total - below;
    if (below === 0 || above === 0) continue;
    const between = below * above * (belowSum / below - (sum - belowSum) / above) ** 2;
    if (between > best * (1 + 1e-12)) [best, from, to] = [between, v, v];
    else if (between >= best * (1 - 1e-12)) to = v;
  }
  return (from + to) >> 1;
}

function peak(counts: Float64Array, from: number, to: number, extreme: number): number {
  let all = 0;
  let best = from;
  let most = -1;
  for (let v = from; v <= to; v += 1) {
    all += counts[v];
    const sum = near(counts, v, from, to);
    if (sum > most) [best, most] = [v, sum];
  }
  const [first, last] = [Math.max(from, best - SMOOTH), Math.min(to, best + SMOOTH)];
  let beside = 0;
  for (let v = first; v <= last; v += 1) beside += counts[v];
  const evenly = (all * (last - first + 1)) / (to - from + 1);
  return beside >= CLEAR_PEAK * evenly ? best : extreme;
}

/** Neighbours over which counts are smoothed: noise that is cut off at 0 or 255 heaps up there, beside its middle. */
const SMOOTH = 10;

/** A count smoothed over its neighbours, so that noise doesn't choose the peak. */
function near(counts: Float64Array, v: number, from: number, to: number): number {
  let sum = 0;
  for (let k = Math.max(from, v - SMOOTH); k <= Math.min(to, v + SMOOTH); k += 1)
    sum += (SMOOTH + 1 - Math.abs(k - v)) * counts[k];
  return sum;
}

/**
 * How far noise reaches from a level towards the other. Edges alone put about an eighth as many pixels into the nearest
 * sixteenth of the range as into its middle half; clearly more is noise, and ends where the even spread of edges begins.
 */
function spread(counts: Float64Array, level: number, step: 1 | -1, other: number): number {
  const reach = Math.abs(other - level);
  let edges = 0;
  const [a, b] = [Math.min(level, other) + (reach >> 2), Math.max(level, other) - (reach >> 2)];
  for (let v = a; v < b; v += 1) edges += counts[v];
  let beside = 0;
  for (let k = 1; k <= reach >> 4; k += 1) beside += counts[level + step * k];
  if (beside <= NOISY * edges + counts[level] * 1e-4) return 0;
  const floor = Math.max((2.5 * edges) / Math.max(1, b - a), counts[level] * 1e-4);
  const limit = Math.min(MAX_NOISE, reach >> 3);
  let k = 1;
  while (k <= limit && counts[level + step * k] > floor) k += 1;
  return k - 1;
}

import type { GreyPicture } from './picture.js';

/** JPEG's blocks have this period, so that what they do to noise differs from phase to phase too. */
const PHASES = 8;
/** Steps beyond this many levels are edges and dirt. */
const CALM = 12;
/** About so many steps are looked at along each direction. */
const MOST = 400_000;
/** Between two kinds of places that take turns, the one is noisier than the other by this factor, everywhere. */
const APART = 1.25;
/** Less noise than this, levels squared, is rounding. */
const LEAST = 0.35;

/**
 * Whether a program has made a picture twice as large. A pixel that was made from its neighbours has less noise than they
 * have, or a step less noise than the next one, every second time (A. C. Gallagher, "Detection of linear and cubic
 * interpolation in JPEG compressed images", CRV 2005: the variance of differences of a resampled signal is periodic). No
 * scanner does that along both directions; JPEG's blocks do not let odd and even ones take turns.
 */
export function isEnlarged({ widthPx, heightPx, levels }: GreyPicture): boolean {
  const along = [
    noiseByPhase(levels, widthPx, 1, heightPx, widthPx),
    noiseByPhase(levels, heightPx, widthPx, widthPx, 1),
  ];
  return [0, 1].some((order) => along.every((noise) => takeTurns(noise[order])));
}

/** Mean squares of first and second differences along lines, by the place along the line. */
function noiseByPhase(
  levels: ArrayLike<number>,
  length: number,
  step: number,
  lines: number,
  lineStep: number,
): [Float64Array, Float64Array] {
  const [first, second, counts] = [0, 1, 2].map(() => new Float64Array(PHASES));
  const skip = Math.max(1, Math.round((lines * length) / MOST));
  for (let line = skip >> 1; line < lines; line += skip) {
    const base = line * lineStep;
    for (let i = 1; i + 1 < length; i += 1) {
      const at = base + i * step;
      const [d, e] = [levels[at] - levels[at - step], levels[at + step] - levels[at]];
      if (Math.abs(d) > CALM || Math.abs(e) > CALM) continue;
      first[i % PHASES] += e * e;
      second[i % PHASES] += (e - d) * (e - d);
      counts[i % PHASES] += 1;
    }
  }
  return [first.map((sum, i) => sum / counts[i]), second.map((sum, i) => sum / counts[i])];
}

function takeTurns(noise: Float64Array): boolean {
  const [even, odd] = [0, 1].map((parity) => noise.filter((_, i) => i % 2 === parity));
  const [loud, low] = Math.min(...even) > Math.max(...odd) ? [even, odd] : [odd, even];
  return Math.min(...loud) > Math.max(LEAST, APART * Math.max(...low));
}

import type { GreyPicture } from './picture.js';
import { medianOf } from './robust.js';

/** Places along a line that are looked at, and about so many steps along each direction. */
const PLACES = 2048;
const MOST = 800_000;
/** Steps beyond this many levels are edges and dirt. */
const CALM = 12;
/** Less noise than this, levels squared, is rounding. */
const LEAST = 0.35;
/** Slower than this, in periods a dot, light falls off. */
const SLOWEST = 0.04;
/** JPEG's blocks have a period of eight dots; this far from its multiples, in periods a dot, they show no more. */
const BLOCK = 8;
const BESIDE = 0.003;
/**
 * A period stands out of the noise's spectrum by this factor; of two and of four dots, where nothing else is looked for, by
 * half of it, and out of what blocks could have made by that.
 */
const OUT = 15;
const OUT_OF_BLOCKS = 3;

/**
 * Whether a program has made a picture larger or smaller. A dot that was made from its neighbours has less noise than they
 * have, the more the farther it lies from each, and where it lies comes back with a period (A. C. Gallagher, "Detection of
 * linear and cubic interpolation in JPEG compressed images", CRV 2005: the variance of second differences of a resampled
 * signal is periodic). No scanner does that along both directions.
 */
export function isResampled({ widthPx, heightPx, levels }: GreyPicture): boolean {
  const across = noiseAlong(levels, widthPx, 1, heightPx, widthPx);
  const up = noiseAlong(levels, heightPx, widthPx, widthPx, 1);
  // Made twice as large, dots lie a quarter beside those that were seen, all alike: steps from one to the next are not.
  return (hasPeriod(across.bends) && hasPeriod(up.bends)) || (hasPeriod(across.steps) && hasPeriod(up.steps));
}

/** Mean squares of first and of second differences along lines, by the place along the line. */
function noiseAlong(
  levels: ArrayLike<number>,
  length: number,
  step: number,
  lines: number,
  lineStep: number,
): { readonly steps: Float64Array; readonly bends: Float64Array } {
  const places = Math.min(PLACES, 8 * Math.floor((length - 2) / 8));
  const first = (length - places) >> 1;
  const steps = new Float64Array(places);
  const bends = new Float64Array(places);
  const counts = new Float64Array(places);
  const skip = Math.max(1, Math.round((lines * places) / MOST));
  for (let line = skip >> 1; line < lines; line += skip) {
    for (let i = 0; i < places; i += 1) {
      const at = line * lineStep + (first + i) * step;
      const [d, e] = [levels[at] - levels[at - step], levels[at + step] - levels[at]];
      if (Math.abs(d) > CALM || Math.abs(e) > CALM) continue;
      steps[i] += d * d;
      bends[i] += (e - d) * (e - d);
      counts[i] += 1;
    }
  }
  const mean = (sums: Float64Array): Float64Array => sums.map((sum, i) => sum / Math.max(1, counts[i]));
  return { steps: mean(steps), bends: mean(bends) };
}

function hasPeriod(noise: Float64Array): boolean {
  const n = noise.length;
  const mean = noise.reduce((sum, one) => sum + one, 0) / n;
  if (!(mean > LEAST)) return false;
  // Hann's window, so that what is slow does not leak.
  const windowed = noise.map((one, i) => (one - mean) * (1 - Math.cos((2 * Math.PI * i) / n)));
  const amplitude = (k: number): number => {
    let [re, im] = [0, 0];
    for (let i = 0; i < n; i += 1) {
      re += windowed[i] * Math.cos((2 * Math.PI * k * i) / n);
      im += windowed[i] * Math.sin((2 * Math.PI * k * i) / n);
    }
    return Math.hypot(re, im);
  };
  const spectrum = Float64Array.from({ length: n / 2 + 1 }, (_, k) => (k < SLOWEST * n ? 0 : amplitude(k)));
  const own = spectrum.filter((_, k) => k >= SLOWEST * n && offBlocks(k / n));
  const usual = OUT * medianOf(own);
  const [one, two, three, four] = [1, 2, 3, 4].map((part) => spectrum[(part * n) / BLOCK]);
  return (
    own.some((one) => one > usual) || Math.max(two, four) > Math.max(usual / 2, OUT_OF_BLOCKS * Math.max(one, three))
  );
}

const offBlocks = (frequency: number): boolean =>
  Math.abs(BLOCK * frequency - Math.round(BLOCK * frequency)) > BLOCK * BESIDE;

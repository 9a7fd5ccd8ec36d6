import type { GreyPicture } from '../picture/picture.js';
import { medianOf, spreadOf } from '../picture/robust.js';
import { filmLevels } from './film-level.js';

/** How openings may look beside the film. */
export type Polarity = 'darker' | 'lighter';

/** How much each pixel stands out from the film around it: 1 is what an opening does. */
export function standingOut(picture: GreyPicture, polarity: Polarity, light: 'local' | 'even'): Float32Array {
  const { levels } = picture;
  const sign = polarity === 'darker' ? 1 : -1;
  const out = new Float32Array(levels.length);
  if (light === 'even') {
    const [low, high] = twoLevels(levels);
    const [film, open] = polarity === 'darker' ? [high, low] : [low, high];
    for (let i = 0; i < out.length; i += 1) out[i] = (film - levels[i]) / (film - open || 1);
    return out;
  }
  const filmAlong = filmLevels(picture);
  const film = new Float32Array(picture.widthPx);
  for (let y = 0, at = 0; y < picture.heightPx; y += 1) {
    filmAlong(y, film);
    for (let x = 0; x < film.length; x += 1, at += 1) out[at] = (sign * (film[x] - levels[at])) / Math.max(20, film[x]);
  }
  const step = Math.max(1, Math.floor(out.length / 200_000));
  const some = Float32Array.from({ length: Math.ceil(out.length / step) }, (_, i) => out[i * step]);
  const noise = Math.max(0.004, spreadOf(some, medianOf(some)));
  // Openings are few, and dust is fewer; what stands out clearly tells how deep an opening is.
  const deep = some.filter((value) => value > Math.max(0.05, 8 * noise)).sort((a, b) => a - b);
  const depth = Math.max(0.08, 10 * noise, deep.length > 20 ? deep[Math.floor(0.7 * deep.length)] : 0.3);
  for (let i = 0; i < out.length; i += 1) out[i] *= 1 / depth;
  return out;
}

/** Otsu's two classes (IEEE Trans. SMC 9 (1979), 62-66): the means of the darker and the lighter part. */
function twoLevels(levels: ArrayLike<number>): [number, number] {
  const counts = new Float64Array(256);
  for (let i = 0; i < levels.length; i += 1) counts[Math.min(255, Math.max(0, Math.round(levels[i])))] += 1;
  let total = 0;
  let sum = 0;
  counts.forEach((n, level) => {
    total += n;
    sum += n * level;
  });
  let best = -1;
  let means: [number, number] = [0, 255];
  let [below, belowSum] = [0, 0];
  counts.forEach((n, level) => {
    below += n;
    belowSum += n * level;
    if (below === 0 || below === total) return;
    const [m0, m1] = [belowSum / below, (sum - belowSum) / (total - below)];
    const between = below * (total - below) * (m0 - m1) ** 2;
    if (between > best) {
      best = between;
      means = [m0, m1];
    }
  });
  return means;
}

import type { Ring } from '../../../geometry/types.js';
import type { PixelRing } from './follow.js';

/** Longer boundaries are unlikely to come twice. */
const MAX_STEPS = 4000;

/** Remembers the fits of 1-bit boundaries: pads that are equal to the pixel come out equal, and are fitted once. */
export interface KnownStairs {
  fit(ring: PixelRing, compute: () => Ring): Ring;
}

export function knownStairs(): KnownStairs {
  const rings = new Map<string, { readonly ring: Ring; readonly x: number; readonly y: number }>();
  return {
    fit(ring, compute) {
      const { xs, ys } = ring;
      if (xs.length > MAX_STEPS) return compute();
      const key = shapeOf(ring);
      const known = rings.get(key);
      if (!known) {
        const fresh = compute();
        rings.set(key, { ring: fresh, x: xs[0], y: ys[0] });
        return fresh;
      }
      const [dx, dy] = [xs[0] - known.x, ys[0] - known.y];
      return known.ring.map(([x, y]): [number, number] => [x + dx, y + dy]);
    },
  };
}

/** Makes a character of a distance in pixels either way, which is several times quicker than its digits. */
const MIDDLE = 0x8000;

/** The corners of a boundary relative to its first point; the same text for the same shape. */
function shapeOf({ xs, ys, hole }: PixelRing): string {
  const n = xs.length;
  let key = hole ? 'h' : '';
  for (let i = 1; i < n; i += 1) {
    const next = i + 1 === n ? 0 : i + 1;
    if (xs[next] - xs[i] !== xs[i] - xs[i - 1] || ys[next] - ys[i] !== ys[i] - ys[i - 1])
      key += String.fromCharCode(xs[i] - xs[0] + MIDDLE, ys[i] - ys[0] + MIDDLE);
  }
  return key;
}

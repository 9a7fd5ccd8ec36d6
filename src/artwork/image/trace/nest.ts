import type { CoverageMap } from './coverage-map.js';
import type { PixelRing } from './follow.js';

/**
 * Which outer ring each hole belongs to. From a hole's first point, the run of covered pixels on its left starts at a
 * left edge of the outer ring or of a hole found earlier in the same opening.
 *
 * @returns per ring: the index of the outer ring (its own for outer rings)
 */
export function outerOf(map: CoverageMap, rings: readonly PixelRing[]): Int32Array {
  const owner = Int32Array.from(rings, (_, i) => i);
  const wanted = new Map<number, number>();
  const width = map.words * 32;
  const keys = rings.map((ring) => {
    if (!ring.hole) return -1;
    const y = ring.ys[0];
    let x = ring.xs[0] - 1;
    while (x > 0 && !isOpen(map, x, y)) x -= 1;
    while (x > 0 && isOpen(map, x - 1, y)) x -= 1;
    const key = y * width + x;
    wanted.set(key, -1);
    return key;
  });
  if (wanted.size === 0) return owner;
  rings.forEach(({ xs, ys }, index) => {
    for (let i = 0; i < xs.length; i += 1) {
      const next = i + 1 === xs.length ? 0 : i + 1;
      if (ys[next] <= ys[i]) continue;
      const key = ys[i] * width + xs[i];
      if (wanted.has(key)) wanted.set(key, index);
    }
  });
  keys.forEach((key, index) => {
    const found = key < 0 ? undefined : wanted.get(key);
    if (found !== undefined && found >= 0) owner[index] = owner[found];
  });
  return owner;
}

function isOpen(map: CoverageMap, x: number, y: number): boolean {
  return ((map.bits[y * map.stride + (x >> 3)] >> (7 - (x & 7))) & 1) === 1;
}

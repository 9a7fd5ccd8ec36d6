import { type CoverageMap, coverageAt } from './coverage-map.js';
import type { PixelRing } from './follow.js';
import type { Samples } from './samples.js';

/** Shorter sides are left to the general fit, pixels. */
const MIN_SIDE = 4;
/** Most by which the places of one side may differ, pixels: three levels of 255. */
const EVEN_PX = 0.0125;
/** Most by which a pixel at a corner may differ from that of a sharp corner, levels of 255. */
const CORNER_LEVELS = 5;

/**
 * The commonest pad by far, found without any fitting: an axis-parallel rectangle with sharp corners at any sub-pixel
 * place.
 *
 * @returns x, y, x, y … in padded pixels; undefined for other shapes
 */
export function traceUprightRectangle(map: CoverageMap, ring: PixelRing, samples: Samples): number[] | undefined {
  const box = fourCorners(ring);
  if (!box || ring.hole) return undefined;
  const [x0, y0, x1, y1] = box;
  const left = new Side();
  const right = new Side();
  const top = new Side();
  const bottom = new Side();
  for (let i = 0; i < samples.count; i += 1) {
    const x = samples.xs[i];
    const y = samples.ys[i];
    if (samples.inRow[i] === 1) {
      if (y > y0 + 1 && y < y1 - 1) (2 * x < x0 + x1 ? left : right).add(x);
    } else if (x > x0 + 1 && x < x1 - 1) (2 * y < y0 + y1 ? top : bottom).add(y);
  }
  if (!(left.isEven() && right.isEven() && top.isEven() && bottom.isEven())) return undefined;
  const [l, t, r, b] = [left.mean(), top.mean(), right.mean(), bottom.mean()];
  for (const cx of [x0, x1])
    for (const cy of [y0, y1])
      for (let py = cy - 2; py < cy + 2; py += 1)
        for (let px = cx - 2; px < cx + 2; px += 1) {
          const sharp = 255 * overlap(px, l, r) * overlap(py, t, b);
          if (Math.abs(coverageAt(map, px, py) - sharp) > CORNER_LEVELS) return undefined;
        }
  return [l, t, l, b, r, b, r, t];
}

class Side {
  private sum = 0;
  private count = 0;
  private least = Infinity;
  private most = -Infinity;

  add(v: number): void {
    this.sum += v;
    this.count += 1;
    if (v < this.least) this.least = v;
    if (v > this.most) this.most = v;
  }

  isEven(): boolean {
    return this.count >= 2 && this.most - this.least <= EVEN_PX;
  }

  mean(): number {
    return this.sum / this.count;
  }
}

/** Share of pixel p that lies between two edges. */
function overlap(p: number, from: number, to: number): number {
  return Math.max(0, Math.min(p + 1, to) - Math.max(p, from));
}

function fourCorners({ xs, ys }: PixelRing): [number, number, number, number] | undefined {
  const n = xs.length;
  let corners = 0;
  let [x0, y0, x1, y1] = [xs[0], ys[0], xs[0], ys[0]];
  for (let i = 0; i < n; i += 1) {
    const a = i === 0 ? n - 1 : i - 1;
    const b = i + 1 === n ? 0 : i + 1;
    if (xs[b] - xs[i] === xs[i] - xs[a] && ys[b] - ys[i] === ys[i] - ys[a]) continue;
    corners += 1;
    if (corners > 4) return undefined;
    x0 = Math.min(x0, xs[i]);
    x1 = Math.max(x1, xs[i]);
    y0 = Math.min(y0, ys[i]);
    y1 = Math.max(y1, ys[i]);
  }
  return x1 - x0 >= MIN_SIDE && y1 - y0 >= MIN_SIDE ? [x0, y0, x1, y1] : undefined;
}

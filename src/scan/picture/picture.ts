import type { PerAxis } from '../../geometry/types.js';
/** A grey picture. Pixel (column, row) counts from the upper left and covers an area: its corner lies on the grid. */
export interface GreyPicture {
  readonly widthPx: number;
  readonly heightPx: number;
  /** Row by row, 0 to 255. */
  readonly levels: Uint8Array | Float32Array;
  /** The light that each level stands for, 0 to 255; undefined where levels are light. */
  readonly light?: Float32Array;
  /** As the file says; undefined when it says nothing. */
  readonly dotsPerMm?: PerAxis;
}

/** The mean of blocks of `factor` x `factor` pixels; what is left over at the right and lower sides is dropped. */
export function blockMeans({ widthPx, heightPx, levels }: GreyPicture, factor: number): GreyPicture {
  const [w, h] = [Math.floor(widthPx / factor), Math.floor(heightPx / factor)];
  const out = new Float32Array(w * h);
  const sums = new Float64Array(w);
  for (let row = 0; row < h; row += 1) {
    sums.fill(0);
    for (let j = 0; j < factor; j += 1) {
      let at = (row * factor + j) * widthPx;
      for (let column = 0; column < w; column += 1) {
        let sum = 0;
        for (const end = at + factor; at < end; at += 1) sum += levels[at];
        sums[column] += sum;
      }
    }
    for (let column = 0; column < w; column += 1) out[row * w + column] = sums[column] / (factor * factor);
  }
  return { widthPx: w, heightPx: h, levels: out };
}

const kernel = new Float64Array(4);
const kernelY = new Float64Array(4);

/** Keys' cubic (IEEE Trans. ASSP 29 (1981), 1153-1160), a = -1/2: exact on parabolas. */
function weigh(t: number, into: Float64Array): void {
  const t2 = t * t;
  const t3 = t2 * t;
  into[0] = 0.5 * (-t3 + 2 * t2 - t);
  into[1] = 0.5 * (3 * t3 - 5 * t2 + 2);
  into[2] = 0.5 * (-3 * t3 + 4 * t2 + t);
  into[3] = 0.5 * (t3 - t2);
}

/** The level, or the light where that is known to be another thing, at a place between pixels; NaN outside of the picture. */
export function levelAt({ widthPx, heightPx, levels, light }: GreyPicture, x: number, y: number): number {
  const column = Math.floor(x - 0.5);
  const row = Math.floor(y - 0.5);
  if (!(column >= 1 && row >= 1 && column + 2 < widthPx && row + 2 < heightPx)) return Number.NaN;
  weigh(x - 0.5 - column, kernel);
  weigh(y - 0.5 - row, kernelY);
  let sum = 0;
  let at = (row - 1) * widthPx + column - 1;
  if (light) {
    for (let j = 0; j < 4; j += 1, at += widthPx) {
      for (let i = 0; i < 4; i += 1) sum += kernelY[j] * kernel[i] * light[levels[at + i]];
    }
    return sum;
  }
  for (let j = 0; j < 4; j += 1) {
    sum +=
      kernelY[j] *
      (kernel[0] * levels[at] + kernel[1] * levels[at + 1] + kernel[2] * levels[at + 2] + kernel[3] * levels[at + 3]);
    at += widthPx;
  }
  return sum;
}

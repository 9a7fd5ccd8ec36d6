import type { GreyPicture } from '../picture/picture.js';

/** Something in the picture that stands out from the film. Pixels of the picture it was found in. */
export interface Blob {
  readonly x: number;
  readonly y: number;
  readonly areaPx: number;
  /** Root of the mean square distance from its middle: does not change when the film is turned. */
  readonly radiusPx: number;
}

/**
 * Parts that stand out by more than half of `depth`, joined over sides and corners; middles are weighted by how much they
 * stand out, so they are finer than a pixel.
 *
 * @param contrast - how much each pixel stands out; 1 is as much as an opening
 */
export function blobsOf(
  { widthPx, heightPx }: Pick<GreyPicture, 'widthPx' | 'heightPx'>,
  contrast: Float32Array,
): Blob[] {
  const labels = new Int32Array(widthPx * heightPx);
  const parents: number[] = [0];
  const rootOf = (start: number): number => {
    let root = start;
    while (parents[root] !== root) {
      parents[root] = parents[parents[root]];
      root = parents[root];
    }
    return root;
  };
  for (let y = 0, at = 0; y < heightPx; y += 1) {
    for (let x = 0; x < widthPx; x += 1, at += 1) {
      if (!(contrast[at] > 0.5)) continue;
      let label = 0;
      const join = (other: number): void => {
        if (other === 0) return;
        const root = rootOf(other);
        if (label === 0) label = root;
        else if (root !== label) {
          const [low, high] = root < label ? [root, label] : [label, root];
          parents[high] = low;
          label = low;
        }
      };
      if (x > 0) join(labels[at - 1]);
      if (y > 0) {
        if (x > 0) join(labels[at - widthPx - 1]);
        join(labels[at - widthPx]);
        if (x + 1 < widthPx) join(labels[at - widthPx + 1]);
      }
      if (label === 0) {
        label = parents.length;
        parents.push(label);
      }
      labels[at] = label;
    }
  }
  return summed(
    widthPx,
    heightPx,
    contrast,
    labels,
    parents.map((_, label) => rootOf(label)),
  );
}

function summed(
  widthPx: number,
  heightPx: number,
  contrast: Float32Array,
  labels: Int32Array,
  roots: readonly number[],
): Blob[] {
  const index = new Map<number, number>();
  for (const root of roots) if (root > 0 && !index.has(root)) index.set(root, index.size);
  const sums = new Float64Array(index.size * 6);
  const place = Int32Array.from(roots, (root) => index.get(root) ?? -1);
  for (let y = 0, at = 0; y < heightPx; y += 1) {
    for (let x = 0; x < widthPx; x += 1, at += 1) {
      if (labels[at] === 0) continue;
      const k = 6 * place[labels[at]];
      const weight = Math.min(1.2, contrast[at]);
      const [cx, cy] = [x + 0.5, y + 0.5];
      sums[k] += weight;
      sums[k + 1] += weight * cx;
      sums[k + 2] += weight * cy;
      sums[k + 3] += weight * (cx * cx + cy * cy);
      sums[k + 4] += 1;
      if (x === 0 || y === 0 || x === widthPx - 1 || y === heightPx - 1) sums[k + 5] = 1;
    }
  }
  const blobs: Blob[] = [];
  for (let k = 0; k < sums.length; k += 6) {
    // What is cut off at the side of the picture has its middle elsewhere.
    if (sums[k + 5] > 0) continue;
    const [x, y] = [sums[k + 1] / sums[k], sums[k + 2] / sums[k]];
    const square = sums[k + 3] / sums[k] - x * x - y * y;
    blobs.push({ x, y, areaPx: sums[k + 4], radiusPx: Math.sqrt(Math.max(0, square)) });
  }
  return blobs;
}

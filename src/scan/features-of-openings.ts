import type { DimensionalFeature, FeaturesFile } from '../coupon/features.js';
import type { Opening, Point } from '../geometry/types.js';

/** Smaller ones are mostly blur, mm. */
const LEAST_MM = 0.12;
/** Where the longer side is less than so many times the other, the ends' roundness reaches the middle. */
const SLOT = 1.5;
/** Widths along one axis; more tell nothing new of a kerf. */
const MOST = 60;

/**
 * A finished stencil as a coupon of its own: the widths and heights of its upright rectangles as commanded, so that a scan
 * of it is read, kept and followed like any other coupon.
 */
export function featuresOfOpenings(
  coupon: string,
  canvas: FeaturesFile['canvas'],
  openings: readonly Opening[],
): FeaturesFile {
  const boxes = openings.flatMap((opening, i) => boxOf(opening, i + 1) ?? []);
  const step = Math.max(1, Math.ceil(boxes.length / MOST));
  const chosen = boxes.filter((_, i) => i % step === 0);
  return { format: 'apertrue-features', version: 1, coupon, canvas, features: chosen.flatMap(widthsOf) };
}

interface Box {
  readonly number: number;
  readonly low: Point;
  readonly high: Point;
}

function boxOf({ outer, islands = [] }: Opening, number: number): Box | undefined {
  const upright = outer.every(([x, y], i) => {
    const [p, q] = outer[(i + 1) % outer.length];
    return x === p || y === q;
  });
  if (outer.length !== 4 || islands.length > 0 || !upright) return undefined;
  const [xs, ys] = [outer.map(([x]) => x), outer.map(([, y]) => y)];
  const low: Point = [Math.min(...xs), Math.min(...ys)];
  const high: Point = [Math.max(...xs), Math.max(...ys)];
  return Math.min(high[0] - low[0], high[1] - low[1]) < LEAST_MM ? undefined : { number, low, high };
}

function widthsOf({ number, low, high }: Box): DimensionalFeature[] {
  const [width, height] = [high[0] - low[0], high[1] - low[1]];
  const middle = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
  const [x, y] = [
    { id: `O${number}X`, from: [low[0], middle[1]], to: [high[0], middle[1]], nominalMm: width, slot: height > SLOT * width }, // biome-ignore format: two alike
    { id: `O${number}Y`, from: [middle[0], low[1]], to: [middle[0], high[1]], nominalMm: height, slot: width > SLOT * height }, // biome-ignore format: two alike
  ] as const;
  return [x, y].map(({ slot, ...feature }) => ({
    ...feature,
    kind: 'opening',
    ...(slot ? {} : { shape: 'square' }),
    say: `${feature.id.endsWith('X') ? 'width' : 'height'} of opening ${number}`,
  }));
}

import type { DimensionalFeature, FeaturesFile } from '../../coupon/features.js';
import type { Opening, Point } from '../../geometry/types.js';

/** Smaller ones are mostly blur, mm. */
const LEAST_MM = 0.12;
/** Where the longer side is less than so many times the other, the ends' roundness reaches the middle. */
const SLOT = 1.5;
/** Widths along one axis; more tell nothing new of a kerf. */
const MOST = 60;
const MOST_SPANS = 6;
const LEAST_SPAN_MM = 3;

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
  return {
    format: 'apertrue-features',
    version: 1,
    coupon,
    canvas,
    features: [...spansOf(chosen, 0), ...spansOf(chosen, 1), ...chosen.flatMap(widthsOf)],
  };
}

interface Box {
  readonly number: number;
  readonly low: Point;
  readonly high: Point;
}

/** Walls that lean by no more are upright on the film: they were drawn so against the shear of the machine. */
const LEAN = 0.02;

/** Of an upright rectangle, or one that leans a little, between the middles of its walls. */
function boxOf({ outer, islands = [] }: Opening, number: number): Box | undefined {
  if (outer.length !== 4 || islands.length > 0) return undefined;
  const walls = outer.map((p, i) => {
    const q = outer[(i + 1) % 4];
    const [dx, dy] = [Math.abs(q[0] - p[0]), Math.abs(q[1] - p[1])];
    return { isLevel: dy <= LEAN * dx, isUpright: dx <= LEAN * dy, x: (p[0] + q[0]) / 2, y: (p[1] + q[1]) / 2 };
  });
  const [level, upright] = [walls.filter((wall) => wall.isLevel), walls.filter((wall) => wall.isUpright)];
  if (level.length !== 2 || upright.length !== 2) return undefined;
  const [xs, ys] = [upright.map(({ x }) => x), level.map(({ y }) => y)];
  const low: Point = [Math.min(...xs), Math.min(...ys)];
  const high: Point = [Math.max(...xs), Math.max(...ys)];
  return Math.min(high[0] - low[0], high[1] - low[1]) < LEAST_MM ? undefined : { number, low, high };
}

/** The longest spans along an axis between openings that lie beside each other: they tell a scale from a kerf. */
function spansOf(boxes: readonly Box[], axis: 0 | 1): DimensionalFeature[] {
  const other = axis === 0 ? 1 : 0;
  const at = (along: number, beside: number): [number, number] => (axis === 0 ? [along, beside] : [beside, along]);
  const spans = boxes.flatMap((a) =>
    boxes.flatMap((b): DimensionalFeature[] => {
      const nominalMm = b.low[axis] - a.low[axis];
      const from = Math.max(a.low[other], b.low[other]);
      const to = Math.min(a.high[other], b.high[other]);
      if (nominalMm < LEAST_SPAN_MM || to - from < LEAST_MM) return [];
      const beside = (from + to) / 2;
      const ends = { from: at(a.low[axis], beside), to: at(b.low[axis], beside), nominalMm };
      const id = `O${a.number}-${b.number}${axis === 0 ? 'X' : 'Y'}`;
      const say = `from opening ${a.number} to opening ${b.number}, from the first edge of each`;
      return [{ id, kind: 'span', ...ends, say }];
    }),
  );
  return spans.sort((p, q) => q.nominalMm - p.nominalMm).slice(0, MOST_SPANS);
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

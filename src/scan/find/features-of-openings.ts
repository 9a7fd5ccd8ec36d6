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

type Axis = 0 | 1;

const pointAt = (axis: Axis, along: number, beside: number): [number, number] =>
  axis === 0 ? [along, beside] : [beside, along];

/** The longest spans along an axis between openings that lie beside each other: they tell a scale from a kerf. */
function spansOf(boxes: readonly Box[], axis: Axis): DimensionalFeature[] {
  const other = 1 - axis;
  const spans = boxes.flatMap((a) =>
    boxes.flatMap((b): DimensionalFeature[] => {
      const nominalMm = b.low[axis] - a.low[axis];
      const from = Math.max(a.low[other], b.low[other]);
      const to = Math.min(a.high[other], b.high[other]);
      if (nominalMm < LEAST_SPAN_MM || to - from < LEAST_MM) return [];
      const [start, end] = [a, b].map(({ low }) => pointAt(axis, low[axis], (from + to) / 2));
      const id = `O${a.number}-${b.number}${'XY'[axis]}`;
      const say = `from opening ${a.number} to opening ${b.number}, from the first edge of each`;
      return [{ id, kind: 'span', from: start, to: end, nominalMm, say }];
    }),
  );
  return spans.sort((p, q) => q.nominalMm - p.nominalMm).slice(0, MOST_SPANS);
}

function widthsOf({ number, low, high }: Box): DimensionalFeature[] {
  return ([0, 1] as const).map((axis): DimensionalFeature => {
    const [nominalMm, length] = [axis, 1 - axis].map((k) => high[k] - low[k]);
    const [from, to] = [low, high].map((corner) => pointAt(axis, corner[axis], (low[1 - axis] + high[1 - axis]) / 2));
    const shape = length > SLOT * nominalMm ? {} : { shape: 'square' as const };
    const say = `${axis === 0 ? 'width' : 'height'} of opening ${number}`;
    return { id: `O${number}${'XY'[axis]}`, from, to, nominalMm, kind: 'opening', ...shape, say };
  });
}

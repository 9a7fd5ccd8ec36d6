import type { DimensionalFeature, FeaturesFile } from '../../coupon/features.js';
import { ringArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Opening, Point } from '../../geometry/types.js';
import type { MachineModel } from '../../machine/types.js';

/** Smaller ones are mostly blur, mm. */
const LEAST_MM = 0.12;
/** Where the longer side is less than so many times the other, the ends' roundness reaches the middle. */
const SLOT = 1.5;
/** Widths along one axis; more tell nothing new of a kerf. */
const MOST = 60;
const MOST_SPANS = 6;
const LEAST_SPAN_MM = 3;
/** Edges are read at the middles of their walls: where these lie aside on the film by more, the way from one to the other is longer. */
const ASIDE_MM = 0.03;

/**
 * A finished stencil as a coupon of its own: the widths and heights of its upright rectangles as commanded, so that a scan
 * of it is read, kept and followed like any other coupon.
 */
export function featuresOfOpenings(
  coupon: string,
  canvas: FeaturesFile['canvas'],
  openings: readonly Opening[],
  machine: MachineModel,
): FeaturesFile {
  const boxes = openings.flatMap((opening, i) => boxOf(opening, i + 1) ?? []);
  const step = Math.max(1, Math.ceil(boxes.length / MOST));
  const chosen = boxes.filter((_, i) => i % step === 0);
  return {
    format: 'apertrue-features',
    version: 1,
    coupon,
    canvas,
    features: [...spansOf(chosen, 0, machine), ...spansOf(chosen, 1, machine), ...chosen.flatMap(widthsOf)],
  };
}

interface Box {
  readonly number: number;
  readonly low: Point;
  readonly high: Point;
}

/** Walls that lean by no more are upright on the film: they were drawn so against the shear of the machine. */
const LEAN = 0.02;
/** Rounding, mm. */
const NONE = 1e-6;
/** Less of a side than this is no wall to read from: dots leave corners out and let slanted sides jump. */
const WALL = 0.6;
/** What fills less of its box is bitten, not only short of a few dots. */
const FULL = 0.93;

/** Of an upright rectangle, or one that leans a little, between the middles of its walls. */
function boxOf({ outer, islands = [] }: Opening, number: number): Box | undefined {
  if (islands.length > 0) return undefined;
  const { minX, minY, maxX, maxY } = ringBounds(outer);
  const size: Point = [maxX - minX, maxY - minY];
  if (ringArea(outer) < FULL * size[0] * size[1]) return undefined;
  const walls = outer.map(([x, y], i): { readonly way: Point; readonly middle: Point } => {
    const [x2, y2] = outer[(i + 1) % outer.length];
    return { way: [x2 - x, y2 - y], middle: [(x + x2) / 2, (y + y2) / 2] };
  });
  /** The wall that runs along an axis, forwards or backwards. */
  const along = (axis: Axis, sign: 1 | -1): Point | undefined =>
    walls.find(({ way }) => {
      return sign * way[axis] >= WALL * size[axis] && Math.abs(way[1 - axis]) <= LEAN * Math.abs(way[axis]);
    })?.middle;
  // With the opening on the left hand, its lower wall runs to the right.
  const [bottom, top, right, left] = [along(0, 1), along(0, -1), along(1, 1), along(1, -1)];
  if (!bottom || !top || !right || !left) return undefined;
  const [low, high]: Point[] = [[left[0], bottom[1]], [right[0], top[1]]]; // biome-ignore format: two corners
  const [width, height] = [high[0] - low[0], high[1] - low[1]];
  // Nothing sticks out between corners and walls.
  if (size[0] - width > LEAN * size[1] + NONE || size[1] - height > LEAN * size[0] + NONE) return undefined;
  return Math.min(width, height) < LEAST_MM ? undefined : { number, low, high };
}

type Axis = 0 | 1;

const pointAt = (axis: Axis, along: number, beside: number): [number, number] =>
  axis === 0 ? [along, beside] : [beside, along];

/** The longest spans along an axis between openings that lie beside each other on the film: they tell a scale from a kerf. */
function spansOf(boxes: readonly Box[], axis: Axis, { scaleX, scaleY, shear }: MachineModel): DimensionalFeature[] {
  const other = 1 - axis;
  const aside = ({ low, high }: Box): number => {
    const [x, y] = [low[0] + high[0], low[1] + high[1]].map((sum) => sum / 2);
    return axis === 0 ? scaleY * y : scaleX * x + shear * y;
  };
  const spans = boxes.flatMap((a) =>
    boxes.flatMap((b): DimensionalFeature[] => {
      const nominalMm = b.low[axis] - a.low[axis];
      const from = Math.max(a.low[other], b.low[other]);
      const to = Math.min(a.high[other], b.high[other]);
      if (nominalMm < LEAST_SPAN_MM || to - from < LEAST_MM || Math.abs(aside(a) - aside(b)) > ASIDE_MM) return [];
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

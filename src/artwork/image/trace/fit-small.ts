import { IDENTITY } from '../../../geometry/affine.js';
import { grownBox, ringBounds } from '../../../geometry/bounds.js';
import { coverageGrid } from '../../../geometry/coverage.js';
import { ellipse, rectangle } from '../../../geometry/shapes.js';
import type { PerAxis, Point, Ring } from '../../../geometry/types.js';
import { flatWalls } from '../../../geometry/walls.js';
import type { CoverageMap } from './coverage-map.js';
import { type PixelRing, stairs } from './follow.js';

/** Boundaries that are narrower than this have too few samples for sides and corners, pixels. */
const NARROW_PX = 10;
/** Boundaries of more steps than this are no small shapes. */
const MOST_STEPS = 300;
/** Steps towards the pixels' own figures; that many leave a thousandth of the area. */
const STEPS = 2;
/** A plain shape is taken where it tells the pixels better than the outline does by this, pixels of area. */
const BETTER = 0.05;
/** A shape that tells the pixels so well is right: what is left is rounding to 256 levels. */
const EXACT = 0.1;

/** How far a soft edge reaches beyond its boundary at most, pixels. */
const EDGE_PX = 3;
/** Less blur is none, pixels squared. */
const SHARP = 0.01;
/** Less is no ink. */
const FAINT = 8 / 255;
/** A pixel belongs to what it is covered by at least so much. */
const HALF = 127.5 / 255;

const SQUARE = rectangle(-1, -1, 1, 1);
/** Of few corners, as small discs in mm have. */
const DISC = ellipse(0, 0, 0.1);

/** A part of a picture: how far each pixel is covered, 0 … 1, one more a row than there are, as `coverageGrid` has it. */
interface Patch {
  readonly left: number;
  readonly top: number;
  readonly width: number;
  readonly height: number;
  readonly shares: Float64Array;
}

/** Area, centre, and second moments about the centre, per area. */
interface Moments {
  readonly area: number;
  readonly x: number;
  readonly y: number;
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
}

interface Match {
  readonly ring: Ring;
  /** By how much the pixels that the ring covers differ from those of the picture, pixels of area. */
  readonly misfit: number;
}

/** What a point about the centre becomes: a b / c d. */
type Stretch = readonly [a: number, b: number, c: number, d: number];

/**
 * The sums of a small shape's pixels tell its area, centre, extents and slant to a thousandth, where its few samples leave
 * up to a fifth of the area open. So the outline is moved, stretched and slanted until it covers as the pixels do; an
 * upright rectangle, a turned one or an ellipse is taken instead where it tells them better.
 *
 * @param outline - as traced, padded pixels
 * @returns padded pixels; the outline itself for large shapes, those with islands, and those that others are too near to
 */
export function fitSmall(map: CoverageMap, ring: PixelRing, outline: Ring): Ring {
  const patch = patchAround(map, ring);
  if (!patch) return outline;
  const traced = covered(outline, patch);
  if (traced && misfitOf(traced, patch) < EXACT) return outline;
  const wanted = momentsOf(patch);
  let best: Match = { ring: outline, misfit: Infinity };
  for (const [shape, towards, worse] of [...plainShapes(wanted), [outline, stretchTo, -BETTER] as const]) {
    const match = matched(shape, patch, wanted, towards);
    if (match.misfit + worse < best.misfit) best = match;
    if (match.misfit < EXACT) break;
  }
  return best.ring;
}

/** An upright rectangle, an ellipse and a turned rectangle as long and wide as the moments say, and how each is stretched. */
function plainShapes(wanted: Moments): (readonly [Ring, typeof stretchTo, number])[] {
  const { xx, xy, yy } = wanted;
  const turn = Math.atan2(2 * xy, xx - yy) / 2;
  const [mean, spread] = [(xx + yy) / 2, Math.hypot((xx - yy) / 2, xy)];
  const [long, short] = [Math.sqrt(mean + spread), Math.sqrt(Math.max(1e-3, mean - spread))];
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const along = (size: number): Stretch => [c * long * size, -s * short * size, s * long * size, c * short * size];
  const centre = { x: 0, y: 0 };
  return [
    [stretched(SQUARE, centre, wanted, [Math.sqrt(3 * xx), 0, 0, Math.sqrt(3 * yy)]), uprightTo, 0],
    [stretched(DISC, centre, wanted, along(2 / 0.1)), stretchTo, 0],
    [stretched(SQUARE, centre, wanted, along(Math.sqrt(3))), stretchTo, 0],
  ];
}

/** The pixels of one boundary and those that its edge reaches; nothing if others' pixels can't be told from its own. */
function patchAround(map: CoverageMap, { xs, ys, area, hole }: PixelRing): Patch | undefined {
  if (hole || xs.length > MOST_STEPS || (4 * area) / xs.length > NARROW_PX) return undefined;
  const corners = stairs({ xs, ys });
  const { minX, minY, maxX, maxY } = grownBox(ringBounds(corners), EDGE_PX + 1);
  const [left, top, width, height] = [minX, minY, maxX - minX, maxY - minY];
  const shares = coverageGrid(wallsOf(corners), -left, -top, width, height);
  const stride = width + 1;
  const around = [-stride - 1, -stride, 1 - stride, -1, 1, stride - 1, stride, stride + 1];
  const shareAt = (at: number): number => {
    const x = left + (at % stride);
    const y = top + Math.floor(at / stride);
    return (map.rows[y]?.[x] ?? 0) / 255;
  };
  let front: number[] = [];
  for (let at = 0; at < shares.length; at += 1) {
    if (shares[at] < HALF) continue;
    shares[at] = shareAt(at);
    if (shares[at] < HALF) return undefined; // an island
    front.push(at);
  }
  for (let step = 0; step <= EDGE_PX; step += 1) {
    const next: number[] = [];
    for (const from of front) {
      for (const by of around) {
        if (shares[from + by] > 0) continue;
        const share = shareAt(from + by);
        if (share >= HALF || (share > 0 && step === EDGE_PX)) return undefined;
        shares[from + by] = share;
        if (share >= FAINT) next.push(from + by);
      }
    }
    front = next;
  }
  return { left, top, width, height, shares };
}

function momentsOf({ left, top, width, height, shares }: Patch): Moments {
  let area = 0;
  let sx = 0;
  let sy = 0;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let row = 0; row < height; row += 1) {
    for (let column = 0, at = row * (width + 1); column < width; column += 1, at += 1) {
      const share = shares[at];
      if (share === 0) continue;
      area += share;
      sx += share * column;
      sy += share * row;
      sxx += share * column * column;
      sxy += share * column * row;
      syy += share * row * row;
    }
  }
  const x = sx / area;
  const y = sy / area;
  return {
    area,
    x: x + left + 0.5,
    y: y + top + 0.5,
    xx: sxx / area - x * x,
    xy: sxy / area - x * y,
    yy: syy / area - y * y,
  };
}

/** A ring with the area, centre and moments of the pixels, and by how much the pixels that it covers differ from them. */
function matched(ring: Ring, patch: Patch, wanted: Moments, towards: (from: Moments, to: Moments) => Stretch): Match {
  let now = ring;
  for (let step = 0; ; step += 1) {
    const made = covered(now, patch);
    if (!made) return { ring, misfit: Infinity };
    const from = momentsOf(made);
    const blur = blurBetween(from, wanted);
    if (step === STEPS) return { ring: now, misfit: misfitOf(softened(made, blur), patch) };
    now = stretched(now, from, wanted, towards(from, { ...wanted, xx: wanted.xx - blur, yy: wanted.yy - blur }));
  }
}

/**
 * The blur of a picture adds the same to the moments along all directions: so much, pixels squared, that a shape which is
 * stretched to what is left has the area that is wanted.
 */
function blurBetween(from: Moments, { area, xx, xy, yy }: Moments): number {
  const square = (from.xx * from.yy - from.xy * from.xy) * (area / from.area) ** 2;
  return (xx + yy - Math.sqrt((xx - yy) ** 2 + 4 * (xy * xy + square))) / 2;
}

/** A patch as a picture with so much blur shows it. */
function softened(patch: Patch, blur: number): Patch {
  if (!(blur > SHARP)) return patch;
  const passes = Math.ceil(2 * blur);
  const part = blur / passes / 2;
  let { shares } = patch;
  for (let pass = 0; pass < passes; pass += 1) {
    for (const step of [1, patch.width + 1]) {
      const from = shares;
      shares = from.map(
        (share, at) => (1 - 2 * part) * share + part * ((from[at - step] ?? 0) + (from[at + step] ?? 0)),
      );
    }
  }
  return { ...patch, shares };
}

function misfitOf({ width, height, shares }: Patch, wanted: Patch): number {
  let misfit = 0;
  for (let row = 0; row < height; row += 1) {
    const start = row * (width + 1);
    for (let at = start; at < start + width; at += 1) misfit += Math.abs(shares[at] - wanted.shares[at]);
  }
  return misfit;
}

let room: Float64Array | undefined;

/** How far a ring covers a patch's pixels; nothing where it leaves the patch. Good until the next call. */
function covered(ring: Ring, { left, top, width, height }: Patch): Patch | undefined {
  const [right, bottom] = [left + width, top + height];
  // What is no number lies nowhere.
  if (!ring.every((p) => p[0] >= left && p[0] <= right && p[1] >= top && p[1] <= bottom)) return undefined;
  const shares = coverageGrid(wallsOf(ring), -left, -top, width, height, room);
  if (shares.length > (room?.length ?? 0)) room = shares;
  return { left, top, width, height, shares };
}

/** From the first corner on. */
const wallsOf = (ring: Ring): Float64Array => flatWalls([[...ring.slice(1), ring[0]]], IDENTITY);

function stretched(ring: Ring, from: PerAxis, to: PerAxis, [a, b, c, d]: Stretch): Ring {
  return ring.map((p): Point => {
    const dx = p[0] - from.x;
    const dy = p[1] - from.y;
    return [to.x + a * dx + b * dy, to.y + c * dx + d * dy];
  });
}

const uprightTo = (from: Moments, to: Moments): Stretch => [
  Math.sqrt(to.xx / from.xx),
  0,
  0,
  Math.sqrt(to.yy / from.yy),
];

/** The stretch that turns one matrix of moments into another: the root of the one times the inverse root of the other. */
function stretchTo(from: Moments, to: Moments): Stretch {
  const [p, q, r] = rootOf(to);
  const [e, f, g] = rootOf(from);
  const det = e * g - f * f;
  return [(p * g - q * f) / det, (q * e - p * f) / det, (q * g - r * f) / det, (r * e - q * f) / det];
}

function rootOf({ xx, xy, yy }: Moments): [number, number, number] {
  const det = Math.sqrt(Math.max(0, xx * yy - xy * xy));
  const size = Math.sqrt(xx + yy + 2 * det);
  return [(xx + det) / size, xy / size, (yy + det) / size];
}

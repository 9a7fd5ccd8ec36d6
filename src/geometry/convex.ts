import type { Point, Ring } from './types.js';

/** Whether a counter-clockwise ring never turns right. */
export function isConvex(ring: Ring): boolean {
  const n = ring.length;
  let turning = 0;
  for (let i = 0; i < n; i += 1) {
    const a = ring[i];
    const b = ring[(i + 1) % n];
    const c = ring[(i + 2) % n];
    const ux = b[0] - a[0];
    const uy = b[1] - a[1];
    const vx = c[0] - b[0];
    const vy = c[1] - b[1];
    const cross = ux * vy - uy * vx;
    // Collinear noise of 1e-12 relative is no right turn.
    if (cross < -1e-12 * (Math.hypot(ux, uy) * Math.hypot(vx, vy) + 1e-18)) return false;
    turning += Math.atan2(cross, ux * vx + uy * vy);
  }
  return Math.abs(turning - 2 * Math.PI) < 1e-6;
}

/** A dip turns right by no more than this at one corner, radians: there, an arc and its tangents differ by 0.5 %. */
const MAX_DIP_TURN = 0.2;
/** All dips of a ring together; far below the turn of half a circle that a ring needs to meet itself. */
const MAX_DIP_SUM = 1;
/** Neighbouring edges that turn less are moved as one, radians. */
const STRAIGHT = 1e-3;

/**
 * Shrinks a counter-clockwise ring by an ellipse in one pass over its edges, where that is exact: for convex rings, and
 * for those that dip only as slightly as a traced outline wobbles. Each edge moves in by the ellipse's reach square to
 * it; edges that vanish are left out.
 *
 * @returns the smaller ring, or undefined where it takes more than this: real bends, or little or nothing left
 */
export function erodeByEdges(ring: Ring, widthXMm: number, widthYMm: number): Ring | undefined {
  const edges = movedEdges(ring, widthXMm / 2, widthYMm / 2);
  if (!edges || !turnsGently(edges)) return undefined;
  return withoutLost(edges);
}

/** Edges as directions and moved lines: the points p with left normal · p = depth. About the ring's first point. */
interface Edges {
  readonly count: number;
  readonly ux: Float64Array;
  readonly uy: Float64Array;
  readonly depth: Float64Array;
  /** Where each edge starts, along its own direction. */
  readonly along: Float64Array;
  readonly originX: number;
  readonly originY: number;
}

function movedEdges(ring: Ring, rx: number, ry: number): Edges | undefined {
  const n = ring.length;
  const [originX, originY] = ring[0];
  const [ux, uy, depth, along] = Array.from({ length: 4 }, () => new Float64Array(n));
  let count = 0;
  for (let i = 0; i < n; i += 1) {
    const p = ring[i];
    const q = ring[i + 1 === n ? 0 : i + 1];
    const dx = q[0] - p[0];
    const dy = q[1] - p[1];
    const length = Math.sqrt(dx * dx + dy * dy);
    if (length === 0) continue;
    const x = dx / length;
    const y = dy / length;
    ux[count] = x;
    uy[count] = y;
    depth[count] = x * (p[1] - originY) - y * (p[0] - originX) + Math.sqrt((rx * y) ** 2 + (ry * x) ** 2);
    along[count] = x * (p[0] - originX) + y * (p[1] - originY);
    count += 1;
  }
  return count < 3 ? undefined : { count, ux, uy, depth, along, originX, originY };
}

function turnsGently({ count, ux, uy }: Edges): boolean {
  let dips = 0;
  let sum = 0;
  for (let i = 0, j = count - 1; i < count; j = i, i += 1) {
    const cross = ux[j] * uy[i] - uy[j] * ux[i];
    const dot = ux[j] * ux[i] + uy[j] * uy[i];
    const turn = Math.atan2(cross, dot);
    sum += turn;
    if (turn >= 0) continue;
    dips -= turn;
    if (turn < -MAX_DIP_TURN || dips > MAX_DIP_SUM) return false;
  }
  return Math.abs(sum - 2 * Math.PI) < 1e-6;
}

/** Leaves out edges whose moved neighbours meet before them, until every one left runs its own way. */
function withoutLost(edges: Edges): Ring | undefined {
  const { count, ux, uy, originX, originY } = edges;
  const next = Int32Array.from({ length: count }, (_, i) => (i + 1) % count);
  const before = Int32Array.from({ length: count }, (_, i) => (i + count - 1) % count);
  // Where each edge starts: the meeting point with the one before it.
  const xs = new Float64Array(count);
  const ys = new Float64Array(count);
  const meet = (i: number): boolean => {
    const at = meeting(edges, before[i], i);
    if (!at) return false;
    [xs[i], ys[i]] = at;
    return true;
  };
  for (let i = 0; i < count; i += 1) if (!meet(i)) return undefined;
  let left = count;
  let i = 0;
  for (let unchecked = count; unchecked > 0; ) {
    const after = next[i];
    if ((xs[after] - xs[i]) * ux[i] + (ys[after] - ys[i]) * uy[i] >= 0) {
      unchecked -= 1;
      i = after;
      continue;
    }
    left -= 1;
    if (left < 3) return undefined;
    next[before[i]] = after;
    before[after] = before[i];
    if (!meet(after)) return undefined;
    // The edges on both sides have changed: once more round, from the one before.
    i = before[i];
    unchecked = left;
  }
  const ring: [number, number][] = [];
  for (let k = 0, e = i; k < left; k += 1, e = next[e]) ring.push([xs[e] + originX, ys[e] + originY]);
  return ring;
}

/** Where two moved edges meet, or undefined where they turn back on each other. */
function meeting({ ux, uy, depth, along }: Edges, a: number, b: number): [number, number] | undefined {
  const cross = ux[a] * uy[b] - uy[a] * ux[b];
  const dot = ux[a] * ux[b] + uy[a] * uy[b];
  if (cross < STRAIGHT && dot < 0) return undefined;
  if (cross > -STRAIGHT && cross < STRAIGHT)
    return [along[b] * ux[b] - depth[b] * uy[b], along[b] * uy[b] + depth[b] * ux[b]];
  return [(depth[a] * ux[b] - depth[b] * ux[a]) / cross, (depth[a] * uy[b] - depth[b] * uy[a]) / cross];
}

/** The part of a region on the near side of a straight cut: { p : p . n <= limit }. Exact, for convex rings only. */
export function cutConvex(ring: Ring, n: Point, limit: number): Ring {
  const kept: Point[] = [];
  ring.forEach((p, i) => {
    const q = ring[(i + 1) % ring.length];
    const dp = p[0] * n[0] + p[1] * n[1] - limit;
    const dq = q[0] * n[0] + q[1] * n[1] - limit;
    if (dp <= 0) kept.push(p);
    if (dp < 0 !== dq < 0 && dp !== 0 && dq !== 0) {
      const t = dp / (dp - dq);
      kept.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
    }
  });
  return kept;
}

import type { Path64 } from 'clipper2-ts';

/** What a sweep over some rings has to do. */
export interface SweepWork {
  /** Walls met on all levels at which a wall begins or ends, summed. */
  readonly visits: number;
  /** Pairs of walls that cross; those that only touch are left out. */
  readonly crossings: number;
}

/**
 * Counts what a clipper's sweep over the rings will have to do, in a small part of the time that it takes.
 *
 * @param most - counting stops soon after this
 */
export function sweepWork(rings: readonly Path64[], most: { visits: number; crossings: number }): SweepWork {
  const count = rings.reduce((sum, ring) => sum + ring.length, 0);
  const [ax, ay, bx, by] = [0, 1, 2, 3].map(() => new Float64Array(count));
  let n = 0;
  for (const ring of rings) {
    for (let i = 0, last = ring[ring.length - 1]; i < ring.length; last = ring[i], i += 1) {
      // From the lower end to the upper one.
      const [low, high] = ring[i].y < last.y ? [ring[i], last] : [last, ring[i]];
      ax[n] = low.x;
      ay[n] = low.y;
      bx[n] = high.x;
      by[n] = high.y;
      n += 1;
    }
  }
  const levels = concat(ay, by).sort();
  let distinct = 0;
  for (let i = 0; i < levels.length; i += 1) {
    if (i > 0 && levels[i] === levels[i - 1]) continue;
    levels[distinct] = levels[i];
    distinct += 1;
  }
  const rank = (y: number): number => {
    let [from, to] = [0, distinct];
    while (from < to) {
      const middle = (from + to) >>> 1;
      if (levels[middle] < y) from = middle + 1;
      else to = middle;
    }
    return from;
  };
  let visits = 0;
  for (let i = 0; i < n; i += 1) visits += 1 + rank(by[i]) - rank(ay[i]);
  if (visits > most.visits) return { visits, crossings: 0 };
  return { visits, crossings: crossingsOf({ ax, ay, bx, by }, most.crossings) };
}

function concat(p: Float64Array, q: Float64Array): Float64Array {
  const both = new Float64Array(p.length + q.length);
  both.set(p);
  both.set(q, p.length);
  return both;
}

interface Walls {
  readonly ax: Float64Array;
  readonly ay: Float64Array;
  readonly bx: Float64Array;
  readonly by: Float64Array;
}

/** Proper crossings of walls, by a sweep upwards. */
function crossingsOf({ ax, ay, bx, by }: Walls, most: number): number {
  const order = Uint32Array.from(ax, (_, i) => i).sort((p, q) => ay[p] - ay[q]);
  const open = new Uint32Array(ax.length);
  let size = 0;
  let crossings = 0;
  for (const i of order) {
    const [px, py, qx, qy] = [ax[i], ay[i], bx[i], by[i]];
    const [left, right] = px < qx ? [px, qx] : [qx, px];
    let kept = 0;
    for (let k = 0; k < size; k += 1) {
      const j = open[k];
      if (by[j] < py) continue;
      open[kept] = j;
      kept += 1;
      const [rx, ry, sx, sy] = [ax[j], ay[j], bx[j], by[j]];
      if ((rx > right && sx > right) || (rx < left && sx < left)) continue;
      const d1 = (qx - px) * (ry - py) - (qy - py) * (rx - px);
      const d2 = (qx - px) * (sy - py) - (qy - py) * (sx - px);
      if (d1 === 0 || d2 === 0 || d1 > 0 === d2 > 0) continue;
      const d3 = (sx - rx) * (py - ry) - (sy - ry) * (px - rx);
      const d4 = (sx - rx) * (qy - ry) - (sy - ry) * (qx - rx);
      if (d3 !== 0 && d4 !== 0 && d3 > 0 !== d4 > 0) crossings += 1;
    }
    if (crossings > most) break;
    open[kept] = i;
    size = kept + 1;
  }
  return crossings;
}

import type { Path64 } from 'clipper2-ts';

/** What a sweep over some rings has to do. */
export interface SweepWork {
  /** Walls met on all levels at which a wall begins or ends, summed. */
  readonly visits: number;
  /** Pairs of walls that cross; those that only touch are left out. */
  readonly crossings: number;
  /** Walls met where each wall begins, summed: what the sweep looks at to find the places of walls. */
  readonly searches: number;
}

/** Grid coordinates stay below this. */
const FAR = 2 ** 26;

/**
 * Counts what a clipper's sweep over the rings will have to do, in a small part of the time that it takes.
 *
 * @param rings - grid coordinates, within 2^26
 * @param enough - counting may stop when this says so
 */
export function sweepWork(rings: readonly Path64[], enough: (work: SweepWork) => boolean): SweepWork {
  const count = rings.reduce((sum, ring) => sum + ring.length, 0);
  const [ax, ay, bx, by] = [0, 1, 2, 3].map(() => new Float64Array(count));
  // Sorted as plain numbers, lower end and place in one: a comparing function costs more than the sweep.
  const order = new Float64Array(count);
  let n = 0;
  for (const ring of rings) {
    for (let i = 0, last = ring[ring.length - 1]; i < ring.length; last = ring[i], i += 1) {
      const [low, high] = ring[i].y < last.y ? [ring[i], last] : [last, ring[i]];
      ax[n] = low.x;
      ay[n] = low.y;
      bx[n] = high.x;
      by[n] = high.y;
      order[n] = (low.y + FAR) * FAR + n;
      n += 1;
    }
  }
  order.sort();
  const open = new Uint32Array(count);
  let size = 0;
  let visits = 0;
  let crossings = 0;
  let searches = 0;
  let level = Number.NaN;
  for (const key of order) {
    const i = key % FAR;
    const px = ax[i];
    const py = ay[i];
    const qx = bx[i];
    const qy = by[i];
    const left = Math.min(px, qx);
    const right = Math.max(px, qx);
    let kept = 0;
    for (let k = 0; k < size; k += 1) {
      const j = open[k];
      if (by[j] < py) continue;
      open[kept] = j;
      kept += 1;
      const rx = ax[j];
      const sx = bx[j];
      if ((rx > right && sx > right) || (rx < left && sx < left)) continue;
      const ry = ay[j];
      const sy = by[j];
      const d1 = (qx - px) * (ry - py) - (qy - py) * (rx - px);
      const d2 = (qx - px) * (sy - py) - (qy - py) * (sx - px);
      if (d1 === 0 || d2 === 0 || d1 > 0 === d2 > 0) continue;
      const d3 = (sx - rx) * (py - ry) - (sy - ry) * (px - rx);
      const d4 = (sx - rx) * (qy - ry) - (sy - ry) * (qx - rx);
      if (d3 !== 0 && d4 !== 0 && d3 > 0 !== d4 > 0) crossings += 1;
    }
    open[kept] = i;
    size = kept + 1;
    searches += size;
    if (py === level) continue;
    // There are about as many upper ends as lower ones.
    visits += 2 * size;
    level = py;
    if (enough({ visits, crossings, searches })) break;
  }
  return { visits, crossings, searches };
}

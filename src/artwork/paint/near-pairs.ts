import type { Box } from '../../geometry/types.js';
import { budgetInForce } from '../../geometry/work-budget.js';

/** What a look at a box costs, in the units of `WorkBudget`. */
const BOX_COST = 0.05;

/**
 * Visits all pairs of boxes that overlap or come nearer than a gap: a sweep along the axis on which the boxes lie
 * thinner. Sorting plus the pairs that share a stretch of that axis; 50,000 pads of a panel take some 20 ms.
 *
 * @param boxes - mm
 * @param visit - called with both positions; `false` stops the sweep
 * @returns false when the sweep was stopped
 */
export function nearPairs(boxes: readonly Box[], gapMm: number, visit: (i: number, j: number) => boolean): boolean {
  const n = boxes.length;
  const alongX = sweepAlongX(boxes);
  const start = new Float64Array(n);
  const stop = new Float64Array(n);
  const low = new Float64Array(n);
  const high = new Float64Array(n);
  boxes.forEach((box, i) => {
    start[i] = alongX ? box.minX : box.minY;
    stop[i] = (alongX ? box.maxX : box.maxY) + gapMm;
    low[i] = alongX ? box.minY : box.minX;
    high[i] = (alongX ? box.maxY : box.maxX) + gapMm;
  });
  const order = Uint32Array.from({ length: n }, (_, i) => i).sort((p, q) => start[p] - start[q] || p - q);
  const active = new Uint32Array(n);
  let count = 0;
  const budget = budgetInForce();
  for (const i of order) {
    budget?.spend(count * BOX_COST);
    let kept = 0;
    const from = start[i];
    const bottom = low[i];
    const top = high[i];
    for (let k = 0; k < count; k += 1) {
      const j = active[k];
      if (stop[j] < from) continue;
      active[kept] = j;
      kept += 1;
      if (low[j] <= top && bottom <= high[j] && !visit(i, j)) return false;
    }
    active[kept] = i;
    count = kept + 1;
  }
  return true;
}

/** The axis on which the boxes cover less of the whole keeps fewer of them active at a time. */
function sweepAlongX(boxes: readonly Box[]): boolean {
  let [minX, minY, maxX, maxY, width, height] = [Infinity, Infinity, -Infinity, -Infinity, 0, 0];
  for (const box of boxes) {
    minX = Math.min(minX, box.minX);
    minY = Math.min(minY, box.minY);
    maxX = Math.max(maxX, box.maxX);
    maxY = Math.max(maxY, box.maxY);
    width += box.maxX - box.minX;
    height += box.maxY - box.minY;
  }
  return width * (maxY - minY) <= height * (maxX - minX);
}

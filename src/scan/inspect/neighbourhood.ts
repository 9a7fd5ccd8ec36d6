import { boxesNear, boxOf } from '../../geometry/bounds.js';
import type { Box, Opening, Point, Ring } from '../../geometry/types.js';

/** Finds what lies near to a place among openings. */
export class Neighbourhood {
  readonly boxes: readonly Box[];
  private readonly order: readonly number[];
  private readonly widest: number;

  constructor(readonly openings: readonly Opening[]) {
    this.boxes = openings.map(boxOf);
    this.order = openings.map((_, i) => i).sort((p, q) => this.boxes[p].minX - this.boxes[q].minX);
    this.widest = Math.max(...this.boxes.map(({ minX, maxX }) => maxX - minX));
  }

  /** Openings whose boxes lie within `roomMm` of a box. */
  near(box: Box, roomMm: number): number[] {
    const { order, boxes } = this;
    let [low, high] = [0, order.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (boxes[order[middle]].minX < box.minX - roomMm - this.widest) low = middle + 1;
      else high = middle;
    }
    const found: number[] = [];
    for (let k = low; k < order.length && boxes[order[k]].minX <= box.maxX + roomMm; k += 1)
      if (boxesNear(box, boxes[order[k]], roomMm)) found.push(order[k]);
    return found;
  }

  /** Whether one of some openings holds a point; film left standing inside of it is not in it. */
  holds([x, y]: Point, among: readonly number[]): boolean {
    return among.some((i) => {
      const { outer, islands = [] } = this.openings[i];
      return [outer, ...islands].reduce((inside, ring) => inside !== ringHolds(ring, x, y), false);
    });
  }

  /** Which of some openings has its box nearest to a point. */
  nearest([x, y]: Point, among: readonly number[]): number {
    let [best, least] = [0, Infinity];
    for (const i of among) {
      const { minX, minY, maxX, maxY } = this.boxes[i];
      const far = Math.hypot(Math.max(0, minX - x, x - maxX), Math.max(0, minY - y, y - maxY));
      if (far < least) [best, least] = [i, far];
    }
    return best;
  }
}

function ringHolds(ring: Ring, x: number, y: number): boolean {
  let inside = false;
  ring.forEach(([bx, by], i) => {
    const [ax, ay] = ring[(i + ring.length - 1) % ring.length];
    if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
  });
  return inside;
}

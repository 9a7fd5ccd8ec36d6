import { boxDistance, boxOf } from '../../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../../geometry/box-index.js';
import type { Box, Opening, Point } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';

/** Finds what lies near to a place among openings. */
export class Neighbourhood {
  private readonly index: BoxIndex;

  constructor(readonly openings: readonly Opening[]) {
    this.index = boxIndex(openings, boxOf);
  }

  /** Openings whose boxes lie within `roomMm` of a box. */
  near(box: Box, roomMm: number): number[] {
    return this.index.near(box, roomMm);
  }

  /** Whether one of some openings holds a point; film left standing inside of it is not in it. */
  holds(point: Point, among: readonly number[]): boolean {
    return among.some((i) => insideRegion(point, this.openings[i]));
  }

  /** Which of some openings has its box nearest to a point. */
  nearest([x, y]: Point, among: readonly number[]): number {
    const place = { minX: x, minY: y, maxX: x, maxY: y };
    let [best, least] = [0, Infinity];
    for (const i of among) {
      const far = boxDistance(place, boxOf(this.openings[i]));
      if (far < least) [best, least] = [i, far];
    }
    return best;
  }
}

import type { Point } from '../../geometry/types.js';

/** One line between two joints. */
export interface Link {
  readonly points: readonly Point[];
  readonly from: number;
  readonly to: number;
}

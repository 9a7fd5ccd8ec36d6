import { intersectRegions } from '../../geometry/boolean.js';
import type { Point } from '../../geometry/types.js';
import type { Proposal, Proposals, Snapshot } from './piece.js';
import { onePiece } from './resize.js';

const END_STEPS = 24;

/** Gives elongated openings semicircular ends. */
export function roundEnds(selected: readonly number[], snapshot: Snapshot): Proposals {
  return new Map(
    selected.map((i): [number, Proposal] => {
      const { widthMm, heightMm, angleDeg, centre, shape } = snapshot.measures[i];
      if (shape === 'round' || shape === 'obround') return [i, { stays: 'its ends are round already' }];
      const angle = ((widthMm >= heightMm ? angleDeg : angleDeg + 90) * Math.PI) / 180;
      const radius = Math.min(widthMm, heightMm) / 2;
      const straight = Math.max(widthMm, heightMm) / 2 - radius;
      const points: Point[] = [];
      for (const [end, turn] of [
        [1, -Math.PI / 2],
        [-1, Math.PI / 2],
      ]) {
        for (let k = 0; k <= END_STEPS; k += 1) {
          const a = turn + (Math.PI * k) / END_STEPS;
          const u = end * straight + radius * Math.cos(a);
          const v = radius * Math.sin(a);
          points.push([
            centre[0] + u * Math.cos(angle) - v * Math.sin(angle),
            centre[1] + u * Math.sin(angle) + v * Math.cos(angle),
          ]);
        }
      }
      const cut = intersectRegions([snapshot.pieces[i].opening], [{ outer: points, islands: [] }]);
      return [i, onePiece(cut, 'rounding its ends')];
    }),
  );
}

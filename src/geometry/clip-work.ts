import type { Path64 } from 'clipper2-ts';
import { type SweepWork, sweepWork } from './crossings.js';
import { budgetInForce } from './work-budget.js';

/** Fewer corners than this cost too little to be counted one by one. */
const FEW_CORNERS = 200;
/** What a crossing costs, in visits of a wall on a level. */
const CROSSING = 13;
/** What a corner of what is clipped costs at least, in the same unit. */
const CLIPPED_CORNER = 6;

/** Counts a boolean operation towards the limit in force, before it is done. */
export function payForClip(paths: readonly Path64[]): void {
  const budget = budgetInForce();
  if (!budget) return;
  const corners = paths.reduce((sum, path) => sum + path.length, 0);
  if (corners < FEW_CORNERS) {
    budget.spend(corners * CLIPPED_CORNER);
    return;
  }
  const cost = ({ visits, crossings }: SweepWork): number => visits + crossings * CROSSING;
  const { rest } = budget;
  budget.spend(corners * CLIPPED_CORNER + cost(sweepWork(paths, (work) => cost(work) > rest)));
}

/** What a corner of the moved outline costs, in the units of `WorkBudget`; 2 us. */
const MOVED_CORNER = 40;
/** What a call costs at least. */
const CALL = 400;
/**
 * Counts a movement of walls towards the limit in force, before it is done.
 *
 * @param arcSteps - corners of a full circle, where arcs are put; 2 for mitred corners
 */
export function payForMove(rings: readonly Path64[], delta: number, arcSteps: number): void {
  const budget = budgetInForce();
  if (!budget) return;
  let corners = 0;
  let made = 0;
  for (const ring of rings) {
    corners += ring.length;
    made += cornersMade(ring, delta > 0 ? 1 : -1, arcSteps);
  }
  budget.spend(CALL + made * MOVED_CORNER);
  if (corners < FEW_CORNERS) return;
  // The moved outline has more levels than the one that is known, and about as many walls on each.
  const finer = made / corners;
  const { rest } = budget;
  // Walls of a moved outline cross and turn at nearly every level, which doubles the price of a visit.
  // Beside each corner without an arc the outline has a loop, whose place is looked for.
  const cost = ({ visits, searches }: SweepWork): number => 2 * visits * finer + 3 * searches;
  budget.spend(cost(sweepWork(rings, (work) => cost(work) > rest)));
}

/** An arc at each corner that turns towards the side to which the walls move, three corners at any other. */
function cornersMade(ring: Path64, side: 1 | -1, arcSteps: number): number {
  let made = 0;
  let before = ring[ring.length - 1];
  for (let i = 0; i < ring.length; i += 1) {
    const at = ring[i];
    const next = ring[i + 1 === ring.length ? 0 : i + 1];
    const [ux, uy, vx, vy] = [at.x - before.x, at.y - before.y, next.x - at.x, next.y - at.y];
    const cross = ux * vy - uy * vx;
    const turn = Math.atan2(cross, ux * vx + uy * vy) * side;
    made += turn > 0 ? 1 + Math.ceil((turn / (2 * Math.PI)) * arcSteps) : 3;
    before = at;
  }
  return made;
}

import { InputError } from '../../errors.js';
import { boxIndex } from '../../geometry/box-index.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import { wallsOf, wallsTouch } from '../../geometry/walls.js';
import { budgetInForce } from '../../geometry/work-budget.js';
import { listIn } from '../../kept.js';
import { surelyApart } from './apart.js';
import type { PlacedRegion } from './placed.js';

/** Walls nearer than this touch, mm. */
const TOUCH_MM = 1e-6;
/** With more pairs than this everything lies on one heap. */
const MAX_PAIRS = 5_000_000;
/** Pairs of opposite polarity are kept, so they are bounded by memory. */
const MAX_KEPT_PAIRS = 4_000_000;

/** What a look at a box costs, in the units of `WorkBudget`. */
const BOX_COST = 0.05;
/** What a look at two objects' walls costs, in the units of `WorkBudget`: at least, and for each wall. */
const WALLS_COST = { least: 120, each: 0.1 };
/** What a look at their insides costs. */
const INSIDES_COST = 30;

export interface Grouped {
  /** Positions of objects that meet each other, directly or through others, ascending. */
  readonly groups: readonly (readonly number[])[];
  /** For each object the earlier ones of the other polarity whose boxes it meets. */
  readonly opposites: ReadonlyMap<number, number[]>;
}

/**
 * Finds groups by union and find over the pairs whose boxes meet.
 *
 * @throws {InputError} TOO_MUCH when nearly everything lies on one heap
 */
export function groupPlaced(items: readonly PlacedRegion[]): Grouped {
  const sets = new DisjointSets(items.length);
  const opposites = new Map<number, number[]>();
  const boxes = items.map((item) => item.box);
  const index = boxIndex(boxes);
  const budget = budgetInForce();
  let pairs = 0;
  let kept = 0;
  const meet = (early: number, late: number): void => {
    const first = items[early];
    const second = items[late];
    pairs += 1;
    if (first.dark !== second.dark) {
      listIn(opposites, late).push(early);
      kept += 1;
    }
    if (pairs > MAX_PAIRS || kept > MAX_KEPT_PAIRS) throw onOneHeap(pairs);
    // A clear object only matters to what was painted before it, and clear ones do not join each other.
    if (first.dark && !sets.areTogether(early, late) && touch(first, second)) sets.join(early, late);
  };
  for (let late = 0; late < items.length; late += 1) {
    let looks = 0;
    index.some(
      boxes[late],
      (early) => {
        looks += 1;
        if (early < late) meet(early, late);
        return false;
      },
      TOUCH_MM,
    );
    budget?.spend(looks * BOX_COST);
  }
  return { groups: sets.groups(), opposites };
}

function onOneHeap(pairs: number): InputError {
  return new InputError({
    code: 'TOO_MUCH',
    message: `${pairs} pairs of objects lie on top of each other.`,
    hint: 'The coordinate format may be wrong, or this is no paste layer.',
  });
}

function touch(p: PlacedRegion, q: PlacedRegion): boolean {
  if (p.isBox && q.isBox) return true;
  // Most that touch overlap well, and then the middle of one lies in the other.
  budgetInForce()?.spend(INSIDES_COST);
  if (surelyApart(p, q, TOUCH_MM)) return false;
  if (q.holds(p.inside) || p.holds(q.inside)) return true;
  const [first, second] = [p.keptRegion, q.keptRegion];
  budgetInForce()?.spend(WALLS_COST.least + WALLS_COST.each * (p.corners + q.corners));
  if (wallsTouch(wallsOf(first), wallsOf(second), TOUCH_MM)) return true;
  return q.holds(first.outer[0]) || p.holds(second.outer[0]);
}

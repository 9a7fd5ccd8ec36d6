import { InputError } from '../errors.js';
import { copyOf } from './copies.js';
import type { Region } from './types.js';

/** What is being worked on, if anything is limited at all. */
let current: WorkBudget | undefined;

/**
 * A limit to the work that one file may cause. Clipping costs grow with the places where walls cross, which a short
 * file can have in millions; they are counted before they are paid. Work within `run` counts, also that of several
 * calls together; work outside of any is not limited.
 */
export class WorkBudget {
  private left: number;

  /** @param units - some 50 ns each on a small computer */
  constructor(units = 60_000_000) {
    this.left = units;
  }

  /** Units that are left, >= 0. */
  get rest(): number {
    return Math.max(0, this.left);
  }

  /** Runs something synchronous, and counts what it does. */
  run<T>(work: () => T): T {
    const before = current;
    current = this;
    try {
      return work();
    } finally {
      current = before;
    }
  }

  /** @throws {InputError} TOO_MUCH when nothing is left */
  spend(units: number): void {
    this.left -= units;
    if (this.left >= 0) return;
    throw new InputError({
      code: 'TOO_MUCH',
      message: 'its shapes lie across each other in too many places to be worked out.',
      hint: 'No paste layer needs that; check that this is the right file.',
    });
  }
}

/** What the steps after the reading may cost by themselves. */
const STEP_UNITS = 80_000_000;
/**
 * And for each opening: many openings are a large board, not a tangle. A flashed pad takes next to nothing, a ragged
 * traced outline some 600 units for each of its corners.
 */
const OPENING_UNITS = 50_000;
const CORNER_UNITS = 1_500;
/** Nobody waits longer than this for a layer, however large. */
const MOST_UNITS = 300_000_000;

/** A limit for several steps together on these openings. */
export function budgetForSteps(openings: readonly Region[]): WorkBudget {
  let units = STEP_UNITS;
  for (const opening of openings) {
    const { outer } = copyOf(opening)?.shape ?? opening;
    units += Math.max(OPENING_UNITS, CORNER_UNITS * outer.length);
  }
  return new WorkBudget(Math.min(units, MOST_UNITS));
}

/** As much as any step may cost: for one that works as long on a few large openings as on many small ones. */
export const fullBudget = (): WorkBudget => new WorkBudget(MOST_UNITS);

/** Runs something on these openings within the limit in force, or within one of its own. */
export function limited<T>(openings: readonly Region[], work: () => T): T {
  return current ? work() : budgetForSteps(openings).run(work);
}

/** The limit in force, if any. */
export const budgetInForce = (): WorkBudget | undefined => current;

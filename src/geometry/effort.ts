import { InputError } from '../errors.js';

/** What is being worked on, if anything is limited at all. */
let current: Effort | undefined;

/**
 * A limit to the work that one file may cause. Clipping costs grow with the places where walls cross, which a short
 * file can have in millions; they are counted before they are paid. Work within `run` counts, also that of several
 * calls together; work outside of any is not limited.
 */
export class Effort {
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

/** What the steps after the reading may cost. Boards of 4,000 openings take a hundredth of it. */
const STEP_UNITS = 80_000_000;

/** Runs something within the limit in force, or within one of its own. */
export function limited<T>(work: () => T): T {
  return current ? work() : new Effort(STEP_UNITS).run(work);
}

/** A limit for several steps together. */
export const effortForSteps = (): Effort => new Effort(STEP_UNITS);

/** The limit in force, if any. */
export const effortInForce = (): Effort | undefined => current;

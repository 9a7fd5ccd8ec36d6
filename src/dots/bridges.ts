import type { DotGrid } from './dot-grid.js';
import type { Outer } from './lay-on-grid.js';

/**
 * Dots left out of lines hardly thicker than a dot, which would come out up to a dot too wide if they hung together as
 * dots: the beam is wider than a dot and bridges the gap. Since it covers the whole of each, the cut hangs together.
 */
export class Bridges {
  private readonly gaps = new Set<number>();

  constructor(private readonly grid: DotGrid) {}

  /** Whether every gap is covered by the beam, or burnt again. */
  get stand(): boolean {
    for (const dot of this.gaps) if (!this.grid.covers(dot)) return false;
    return true;
  }

  /** Leaves burnt dots out where the beam covers them from what lies around. @returns whether they are left out now */
  leaveOut(orbit: Outer): boolean {
    if (!this.grid.hasBeam) return false;
    this.grid.toggle(orbit);
    const known = orbit.dots.filter((dot) => this.gaps.has(dot));
    for (const dot of orbit.dots) this.gaps.add(dot);
    if (this.stand) return true;
    this.grid.toggle(orbit);
    for (const dot of orbit.dots) if (!known.includes(dot)) this.gaps.delete(dot);
    return false;
  }
}

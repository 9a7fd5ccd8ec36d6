import type { ChosenDots } from './beam-grid.js';
import type { GriddedShape, Outer } from './lay-on-grid.js';
import { besides, canCome, canGo } from './settle.js';
import type { End, Reach } from './sides.js';

/** Tips that stand out by so little less than the outermost one go with it, dots. */
const SAME_TIP_DOTS = 0.1;

/** Where dots reach farthest at the ends of a shape's sides: what of that is taken off, and what is put on. */
export class Tips {
  /**
   * Dots left out of lines hardly thicker than a dot, which would come out up to a dot too wide if they hung together as
   * dots: the beam is wider than a dot and bridges the gap. Since it covers the whole of each, the cut hangs together.
   */
  private readonly gaps = new Set<number>();

  constructor(
    private readonly laid: GriddedShape,
    private readonly grid: ChosenDots,
    private readonly reach: Reach,
  ) {}

  /**
   * Takes the tips that stick out most at an end of a side.
   *
   * @param bridging - whether what carries something may go where the beam bridges the gap
   * @returns numbers of the orbits that changed; none: they carry something
   */
  cut(side: number, end: End, error: number, bridging: boolean): number[] {
    const most = this.reach.most(this.grid.mask, side)[end];
    return this.cutBeyond(side, end, most - Math.min(SAME_TIP_DOTS, error / 2), bridging);
  }

  /** Takes the dots that reach farther than to a place at an end of a side. @returns numbers of the orbits that changed */
  cutBeyond(side: number, end: End, less: number, bridging: boolean): number[] {
    const { laid, grid } = this;
    const { outer } = laid;
    const tips = this.reach.tips[side][end];
    const left = new Set<number>();
    for (let k = 0; k < tips.length; k += 1) if (tips[k] > less && grid.mask[outer[k].dots[0]] === 1) left.add(k);
    const changed: number[] = [];
    const next = [...left].reverse();
    for (let k = next.pop(); k !== undefined; k = next.pop()) {
      if (!left.has(k)) continue;
      const free = canGo(laid, grid.mask, outer[k], true);
      const round = free ? undefined : this.detour(k, (way) => tips[way] < less);
      if (free || round !== undefined) {
        for (const one of round === undefined ? [k] : [round, k]) {
          grid.toggle(outer[one]);
          changed.push(one);
        }
      } else if (bridging && this.leaveOut(outer[k])) changed.push(k);
      else continue;
      left.delete(k);
      // Those that hang on others go after them.
      for (const beside of besides(laid, outer[k])) if (left.has(beside)) next.push(beside);
    }
    return changed;
  }

  /** Where a line as thin as a dot hangs on a tip: dots beside it over which the line can go instead. */
  private detour(tip: number, farther: (way: number) => boolean): number | undefined {
    const { laid } = this;
    const { mask } = this.grid;
    const { outer } = laid;
    for (const way of new Set(besides(laid, outer[tip]))) {
      const { dots } = outer[way];
      if (mask[dots[0]] === 1 || dots.length !== outer[tip].dots.length || !farther(way)) continue;
      for (const one of dots) mask[one] = 1;
      const goes = canGo(laid, mask, outer[tip], true);
      for (const one of dots) mask[one] = 0;
      if (goes) return way;
    }
    return undefined;
  }

  /** Burns the dots beside others that bring an end of a side nearest to where it should be. @returns their number; none: nothing would */
  grow(side: number, end: End, error: number): number | undefined {
    const { laid, grid } = this;
    const tips = this.reach.tips[side][end];
    const now = this.reach.most(grid.mask, side)[end];
    let best: { orbit: number; left: number } | undefined;
    laid.outer.forEach((orbit, k) => {
      const more = tips[k] - now;
      if (more <= 1e-6 || grid.mask[orbit.dots[0]] === 1) return;
      // Equals at both ends count twice.
      const left = Math.abs(error + more * (orbit.dots.length > 1 ? 2 : 1));
      if (left >= (best?.left ?? Math.abs(error)) - 1e-6 || !canCome(laid, grid.mask, orbit)) return;
      best = { orbit: k, left };
    });
    if (best) grid.toggle(laid.outer[best.orbit]);
    return best?.orbit;
  }

  /** Whether every gap is covered by the beam, or burnt again. */
  get stand(): boolean {
    for (const dot of this.gaps) if (!this.grid.covers(dot)) return false;
    return true;
  }

  /** Leaves burnt dots out where the beam covers them from what lies around. @returns whether they are left out now */
  private leaveOut(orbit: Outer): boolean {
    this.grid.toggle(orbit);
    const known = orbit.dots.filter((dot) => this.gaps.has(dot));
    for (const dot of orbit.dots) this.gaps.add(dot);
    if (this.stand) return true;
    this.grid.toggle(orbit);
    for (const dot of orbit.dots) if (!known.includes(dot)) this.gaps.delete(dot);
    return false;
  }
}

import type { GriddedShape, Outer } from './lay-on-grid.js';

/** Chosen dots, and how near what they burn comes to what should be. */
export interface DotGrid {
  /** 1 for every dot that is burnt. */
  readonly mask: Uint8Array;
  /** Wrongly burnt and wrongly left area, dots squared. */
  readonly misfit: number;
  /** Burnt area, dots squared. */
  readonly area: number;
  /** Whether the beam is wider than the dots. */
  readonly hasBeam: boolean;
  /** Burns dots that symmetry makes equal, or leaves them out. */
  toggle(orbit: Outer): void;
  /** Whether the whole of a dot is burnt, by itself or by what lies around it. */
  covers(dot: number): boolean;
}

/** Without the beam, for what is too large for it: a dot burns itself and nothing more. */
export class CoverGrid implements DotGrid {
  readonly hasBeam = false;
  readonly mask: Uint8Array;
  misfit: number;
  area: number;

  constructor({ touched, touchedCount, outer }: GriddedShape) {
    this.mask = touched.slice();
    this.area = touchedCount;
    this.misfit = outer.reduce((sum, { dots, cover }) => sum + dots.length * (1 - cover), 0);
  }

  toggle({ dots, cover }: Outer): void {
    const sign = this.mask[dots[0]] === 1 ? -1 : 1;
    for (const dot of dots) this.mask[dot] = sign > 0 ? 1 : 0;
    this.area += sign * dots.length;
    this.misfit += sign * dots.length * (1 - 2 * cover);
  }
  covers(dot: number): boolean {
    return this.mask[dot] === 1;
  }
}

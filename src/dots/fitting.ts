import { BeamGrid, type Burnt } from './beam-grid.js';
import { CoverGrid, type DotGrid } from './dot-grid.js';
import type { GriddedShape } from './lay-on-grid.js';
import { type End, Reach } from './reach.js';
import { besides, settle } from './settle.js';
import type { PixelShape } from './shape.js';
import type { PadSide } from './sides.js';
import { cutTips, growTip } from './tips.js';

/** What the dots are to come near to. */
export interface Aim {
  readonly burnt?: Burnt;
  /** Dots squared. */
  readonly area: number;
  /** Length of its walls, dots. */
  readonly outline: number;
}

export function aimOf(shape: PixelShape, burnt?: Burnt): Aim {
  const { area, walls } = burnt ?? shape;
  let outline = 0;
  for (let at = 0; at < walls.length; at += 4)
    outline += Math.hypot(walls[at + 2] - walls[at], walls[at + 3] - walls[at + 1]);
  return { ...(burnt ? { burnt } : {}), area, outline };
}

/** Dots chosen for one phase. */
export interface Way {
  readonly laid: GriddedShape;
  readonly mask: Uint8Array;
  readonly area: number;
  readonly errors: readonly number[];
  readonly cost: number;
  /** Whether widths and area are as near as they should be. */
  readonly isNear: boolean;
}

/** No width may be off by 0.75 of a dot, and no area by 5 %: from here on an error counts more. */
const WIDE_OFF_DOTS = 0.6;
const WIDE_OFF_PERCENT = 4.5;
const AREA_STEEPNESS = 1;
/** No more than this, so that no width is given up for the area of a line that is thinner than the dots. */
const MOST_FOR_AREA = 2;
/** The share of it for upright walls: they have no tips, and get the nearest number of dots. */
const UPRIGHT_SHARE = 0.075;
/** How much a wrong area counts beside wrong widths, as the width by which the walls would have to move. */
const AREA_WEIGHT = 0.6;
/**
 * Nothing fills stairs without the beam: tips then stand out far and say little, and each percent of the area counts, up
 * to some; what is trimmed or filled for it may be wrong itself.
 */
const BARE = { areaWeight: 0.1, mostForArea: 10, areaForMisfit: 0.95, nearPercent: 2 };
/** How much the wrongly cut area per dot of outline counts. */
const MISFIT_WEIGHT = 0.1;
/** How much of a misfit may be taken into account for an area that comes nearer. */
const AREA_FOR_MISFIT = 0.4;
/** The same for dots that come where they make no width wider: between tips, and at the inner walls of frames. */
const AREA_FOR_FILL = 0.95;
/** Steps taken to bring widths nearer. */
const MAX_STEPS = 24;
/** So many steps that bring nothing are the end. */
const MAX_IDLE = 5;
/** A width that is off by less is left, dots. */
const NEAR_DOTS = 0.08;

function costOf(errors: readonly number[], sides: readonly PadSide[], areaOff: number, percent: number): number {
  const widths = sides.reduce((sum, { weight, steepness }, i) => {
    const beyond = Math.max(0, Math.abs(errors[i]) - WIDE_OFF_DOTS);
    return sum + weight * errors[i] ** 2 + steepness * beyond ** 2;
  }, 0);
  const beyond = Math.max(0, Math.abs(percent) - WIDE_OFF_PERCENT);
  const share = sides.slice(0, 2).every(({ upright }) => upright) ? UPRIGHT_SHARE : 1;
  return widths + AREA_WEIGHT * areaOff ** 2 + share * Math.min(MOST_FOR_AREA, AREA_STEEPNESS * beyond ** 2);
}

function bareCost([width, height]: readonly number[], percent: number): number {
  return width ** 2 + height ** 2 + Math.min(BARE.mostForArea, BARE.areaWeight * percent ** 2);
}

/** Chooses dots for a shape laid on the grid. */
export function fitted(laid: GriddedShape, sides: readonly PadSide[], aim: Aim): Way {
  return new Fitting(laid, sides, aim).best();
}

/** The choice of dots for one phase: a walk on which every halt is judged. */
class Fitting {
  private readonly grid: DotGrid;
  /** No beam is known. */
  private readonly bare: boolean;
  private readonly reach: Reach;
  /** Up to where dots may come at either end of each side. */
  private readonly limits: [number, number][];
  /** Dots that carry a width. */
  private readonly held = new Set<number>();

  constructor(
    private readonly laid: GriddedShape,
    private readonly sides: readonly PadSide[],
    private readonly aim: Aim,
  ) {
    const { columns, rows, middle, touched } = laid;
    this.grid = aim.burnt ? new BeamGrid(touched.slice(), columns, rows, middle, aim.burnt) : new CoverGrid(laid);
    this.bare = aim.burnt !== undefined && !this.grid.hasBeam;
    this.reach = new Reach(laid, sides);
    this.limits = sides.map(() => [Infinity, Infinity]);
  }

  best(): Way {
    const areaWeight = this.bare ? BARE.areaForMisfit : AREA_FOR_MISFIT;
    const all = this.laid.outer.map((_, k) => k);
    this.settle(all, 0);
    let best = { ...this.judge(), mask: this.grid.mask.slice() };
    let idle = 0;
    const halt = (): void => {
      const way = this.judge();
      if (way.cost >= best.cost - 1e-9) return;
      best.mask.set(this.grid.mask);
      best = { ...way, mask: best.mask };
      idle = 0;
    };
    let changed = all;
    for (let step = 0; step <= MAX_STEPS && idle < MAX_IDLE && changed.length > 0; step += 1) {
      idle += 1;
      halt();
      this.settle(step === 0 ? all : changed.flatMap((k) => besides(this.laid, this.laid.outer[k])), areaWeight);
      halt();
      this.settle(all, AREA_FOR_FILL, true);
      halt();
      changed = this.stepNearer();
    }
    return best;
  }

  private settle(from: readonly number[], areaWeight: number, fills = false): void {
    settle(this.laid, this.grid, from, {
      areaGoal: this.aim.area,
      areaWeight,
      mayCome: (k) =>
        this.limits.every((ends, side) => ends.every((most, end) => this.reach.tips[side][end as End][k] <= most)),
      mayGo: (k) => !fills && !this.held.has(k),
    });
  }

  private judge(): Omit<Way, 'mask'> {
    const { grid, laid, aim } = this;
    const errors = this.reach.errors(grid.mask);
    const percent = (100 * (grid.area - aim.area)) / aim.area;
    const areaOff = (2 * (grid.area - aim.area)) / aim.outline;
    const cost =
      (this.bare ? bareCost(errors, percent) : costOf(errors, this.sides, areaOff, percent)) +
      (MISFIT_WEIGHT * grid.misfit) / aim.outline;
    const isNear =
      (Math.abs(percent) <= WIDE_OFF_PERCENT && errors.every((e) => Math.abs(e) <= WIDE_OFF_DOTS)) ||
      (this.bare && Math.abs(percent) <= BARE.nearPercent);
    return { laid, area: grid.area, errors, cost, isNear };
  }

  /** One step that brings the worst width nearer, if there is one: the tips that stick out go, or come. */
  private stepNearer(): number[] {
    const { laid, grid, reach, limits, held } = this;
    const worst = this.sides
      .map((_, side) => ({ side, ends: reach.overhang(grid.mask, side) }))
      .filter(({ side, ends }) => Math.abs(ends[0] + ends[1]) > (side < 2 ? NEAR_DOTS : WIDE_OFF_DOTS))
      .sort((p, q) => Math.abs(q.ends[0] + q.ends[1]) - Math.abs(p.ends[0] + p.ends[1]));
    for (const { side, ends } of worst) {
      const error = ends[0] + ends[1];
      const end: End = error > 0 === ends[1] > ends[0] ? 1 : 0;
      if (error > 0) {
        const changed = cutTips(laid, grid, reach, side, end, error);
        const [low, high] = reach.most(grid.mask, side);
        limits[side] = [Math.min(limits[side][0], low + 1e-6), Math.min(limits[side][1], high + 1e-6)];
        if (changed.length > 0) return changed;
      } else {
        const grown = growTip(laid, grid, reach, side, end, error);
        if (grown === undefined) continue;
        held.add(grown);
        return [grown];
      }
    }
    return [];
  }
}

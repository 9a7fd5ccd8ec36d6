import type { Point } from '../geometry/types.js';
import { type Aim, CUT_OFF_DOTS, costOf, WIDE_OFF_DOTS } from './aim.js';
import { BeamGrid, type ChosenDots, CoverGrid } from './beam-grid.js';
import type { GriddedShape } from './lay-on-grid.js';
import { besides, canCome, fillsCorner, settle } from './settle.js';
import { type End, type PadSide, Reach } from './sides.js';
import { Tips } from './tips.js';

/** Dots chosen for one phase. */
export interface Way {
  readonly laid: GriddedShape;
  readonly mask: Uint8Array;
  readonly area: number;
  readonly errors: readonly number[];
  readonly cost: number;
  /** Whether widths and area are as near as they should be. */
  readonly isNear: boolean;
  /** Whether nothing is to be gained. */
  readonly isGood: boolean;
}

/** How much of a misfit may be taken into account for an area that comes nearer; without the beam, which fills stairs. */
const AREA_FOR_MISFIT = 0.4;
const BARE_AREA_FOR_MISFIT = 0.95;
/** The same for dots that come where they make no width wider: between tips, and at the inner walls of frames. */
const AREA_FOR_FILL = 0.95;
/** Steps taken to bring widths nearer. */
const MAX_STEPS = 24;
/** So many steps that bring nothing are the end. */
const MAX_IDLE = 5;
/** A width that is off by less is left, dots. */
const NEAR_DOTS = 0.08;
/** By how much the walls of a pad are moved to see whether that costs less, dots. */
const SHIFTS_DOTS = [-0.4, -0.2, -0.1, 0.1, 0.2, 0.4];

/** Chooses dots for a shape laid on the grid. */
export function fitted(laid: GriddedShape, sides: readonly PadSide[], aim: Aim): Way {
  return new Fitting(laid, sides, aim).best();
}

/** The choice of dots for one phase: a walk on which every halt is judged. */
class Fitting {
  private readonly grid: ChosenDots;
  /** No beam is known. */
  private readonly bare: boolean;
  private readonly reach: Reach;
  /** Up to where dots may come at either end of each side. */
  private readonly limits: [number, number][];
  /** Dots that carry a width. */
  private readonly held = new Set<number>();
  private readonly tips: Tips;
  /** Numbers of all orbits of outer dots. */
  private readonly all: readonly number[];
  /** What lies around each corner. */
  private readonly corners: readonly (readonly NearDot[])[];

  constructor(
    private readonly laid: GriddedShape,
    private readonly sides: readonly PadSide[],
    private readonly aim: Aim,
  ) {
    const { columns, rows, middle, touched } = laid;
    this.grid = aim.burnt ? new BeamGrid(touched.slice(), columns, rows, middle, aim.burnt) : new CoverGrid(laid);
    this.bare = aim.burnt !== undefined && !this.grid.hasBeam;
    this.reach = new Reach(laid, sides);
    this.tips = new Tips(laid, this.grid, this.reach);
    this.limits = sides.map(() => [Infinity, Infinity]);
    this.all = laid.outer.map((_, k) => k);
    this.corners = aim.corners.map((corner) => dotsAround(laid, corner));
  }

  best(): Way {
    const areaWeight = this.bare ? BARE_AREA_FOR_MISFIT : AREA_FOR_MISFIT;
    const { all } = this;
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
    return this.bare ? best : this.withCorners(this.aim.slantedPad && !best.isGood ? this.shifted(best) : best);
  }

  /** A pad's walls moved out and in by parts of a dot, as long as that costs less, with all dots within them for its area. */
  private shifted(from: Way): Way {
    this.held.clear();
    let best = from;
    for (let before: Way | undefined; before !== best; ) {
      before = best;
      for (const side of [0, 1]) {
        for (const ends of this.endsOf(best, side)) {
          for (const by of SHIFTS_DOTS) {
            const way = this.shift(best, side, ends, by);
            if (way.cost < best.cost - 1e-9) best = { ...way, mask: this.grid.mask.slice() };
          }
        }
      }
    }
    return best;
  }

  /** A dot at each corner that is cut off, if that costs less than the corner. */
  private withCorners(from: Way): Way {
    const { laid, grid } = this;
    let best = from;
    this.layOut(from.mask);
    for (const around of this.corners) {
      if (nearestBurnt(grid.mask, around) <= CUT_OFF_DOTS) continue;
      let chosen: number | undefined;
      for (const k of new Set(around.flatMap(({ dot }) => laid.orbitAt.get(dot) ?? []))) {
        const orbit = laid.outer[k];
        if (grid.mask[orbit.dots[0]] === 1 || !canCome(laid, grid.mask, orbit)) continue;
        grid.toggle(orbit);
        const way = this.judge();
        if (way.cost < best.cost - 1e-9) {
          chosen = k;
          best = { ...way, mask: grid.mask.slice() };
        }
        grid.toggle(orbit);
      }
      if (chosen !== undefined) grid.toggle(laid.outer[chosen]);
    }
    return best;
  }

  private layOut(mask: Uint8Array): void {
    const { laid, grid } = this;
    for (const orbit of laid.outer) if (mask[orbit.dots[0]] !== grid.mask[orbit.dots[0]]) grid.toggle(orbit);
  }

  /** The ends of a side that are moved together: with symmetric dots one goes with the other. */
  private endsOf({ mask }: Way, side: number): readonly (readonly End[])[] {
    const [low, high] = this.reach.overhang(mask, side);
    return Math.abs(low - high) < 1e-6 ? [[0, 1]] : [[0], [1]];
  }

  private shift({ mask }: Way, side: number, ends: readonly End[], by: number): Omit<Way, 'mask'> {
    const { limits } = this;
    this.layOut(mask);
    this.sides.forEach((_, i) => {
      limits[i] = this.reach.most(mask, i).map((most) => most + 1e-6) as [number, number];
    });
    for (const end of ends) limits[side][end] += by;
    if (by < 0) for (const end of ends) this.tips.cutBeyond(side, end, limits[side][end], false);
    this.settle(this.all, AREA_FOR_FILL, true);
    return this.judge();
  }

  private settle(from: readonly number[], areaWeight: number, fills = false): void {
    settle(this.laid, this.grid, from, {
      areaGoal: Math.max(this.aim.area, this.aim.leastArea),
      areaWeight,
      mayCome: (k) =>
        this.reach.isWithin(k, this.limits) &&
        // What is filled between upright walls is no tip between tips.
        (!fills || !this.aim.upright || fillsCorner(this.laid, this.grid.mask, this.laid.outer[k])),
      mayGo: (k) => !fills && !this.held.has(k),
      stands: () => this.tips.stand,
    });
  }

  private judge(): Omit<Way, 'mask'> {
    const { grid, laid, sides, aim, bare } = this;
    const given = {
      ...{ area: grid.area, misfit: grid.misfit, errors: this.reach.errors(grid.mask) },
      corners: this.corners.map((around) => nearestBurnt(grid.mask, around)),
    };
    return { laid, ...given, ...costOf(given, sides, aim, bare) };
  }

  /** One step that brings the worst width nearer, if there is one: the tips that stick out go, or come. */
  private stepNearer(): readonly number[] {
    const { grid, reach, limits, held, tips } = this;
    const worst = this.sides
      .map((_, side) => ({ side, ends: reach.overhang(grid.mask, side) }))
      .filter(({ side, ends }) => Math.abs(ends[0] + ends[1]) > (side < 2 ? NEAR_DOTS : WIDE_OFF_DOTS))
      .sort((p, q) => Math.abs(q.ends[0] + q.ends[1]) - Math.abs(p.ends[0] + p.ends[1]));
    for (const { side, ends } of worst) {
      const error = ends[0] + ends[1];
      const end: End = error > 0 === ends[1] > ends[0] ? 1 : 0;
      if (error > 0) {
        const bridging = side < 2 && error > WIDE_OFF_DOTS && this.aim.slantedPad;
        const changed = tips.cut(side, end, error, bridging);
        const [low, high] = reach.most(grid.mask, side);
        limits[side] = [Math.min(limits[side][0], low + 1e-6), Math.min(limits[side][1], high + 1e-6)];
        if (changed.length > 0) return changed;
      } else {
        const grown = tips.grow(side, end, error);
        if (grown === undefined) continue;
        held.add(grown);
        return [grown];
      }
    }
    return [];
  }
}

/** How far around a corner dots are looked for. */
const CORNER_DOTS = 2;

/** A dot around a corner, and how far from it, dots. */
interface NearDot {
  readonly dot: number;
  readonly far: number;
}

function dotsAround({ columns, rows, middle }: GriddedShape, [x, y]: Point): NearDot[] {
  const [cx, cy] = [x + middle.x, y + middle.y];
  const span = (at: number, most: number): number[] => {
    const first = Math.max(0, Math.floor(at) - CORNER_DOTS);
    return Array.from({ length: Math.min(most, Math.floor(at) + CORNER_DOTS + 1) - first }, (_, i) => first + i);
  };
  return span(cy, rows).flatMap((row) => {
    const dy = Math.max(0, row - cy, cy - row - 1);
    return span(cx, columns).map((column): NearDot => {
      const dx = Math.max(0, column - cx, cx - column - 1);
      return { dot: row * columns + column, far: Math.sqrt(dy ** 2 + dx ** 2) };
    });
  });
}

/** How far the nearest burnt one lies; no more than is looked for. */
function nearestBurnt(mask: Uint8Array, around: readonly NearDot[]): number {
  let least = CORNER_DOTS;
  for (const { dot, far } of around) if (mask[dot] === 1 && far < least) least = far;
  return least;
}

import { BeamGrid, type Burnt, burntBy } from './beam-grid.js';
import { CoverGrid, type DotGrid } from './dot-grid.js';
import { type Laid, laidOn } from './lay-on-grid.js';
import { stampFromMask } from './masks.js';
import { type End, Reach } from './reach.js';
import { besides, settle } from './settle.js';
import type { PixelShape } from './shape.js';
import type { ShapeClass } from './shape-classes.js';
import { type Side, sidesOf } from './sides.js';
import { EMPTY_STAMP, type Stamp } from './stamp.js';
import { cutTips, growTip } from './tips.js';
import { rectangleOfDots, uprightRectangle } from './upright-rectangle.js';

type PerAxis = { readonly x: number; readonly y: number };

/** The dots that stand for all openings of a shape. */
export interface Fitted {
  readonly stamp: Stamp;
  /** Upper left corner of the stamp from the middle of the shape's box. */
  readonly left: number;
  readonly top: number;
  /** What is burnt less what should be, as a share of that. */
  readonly areaErrorPercent: number;
  /** Errors across the shape's own two sides, mm. */
  readonly sideErrorsMm: readonly number[];
}

/** Boxes of no more dots than the last are looked at with the beam, and of no more than the second at every phase. */
const TINY_DOTS = 1000;
const SMALL_DOTS = 12_000;
const BEAM_DOTS = 250_000;

/** Looks along a dot, by the dots of the box: the larger, the less a single one matters. */
const looksFor = (dots: number): number => (dots <= TINY_DOTS ? 3 : dots <= SMALL_DOTS ? 2 : 1);

/** An opening of less area than this is none, dots squared. */
const NOTHING = 1e-9;

/**
 * The dots whose cut comes nearest to a shape's: every limb first, then both widths, then area at the corners.
 *
 * All dots that the shape touches hold every limb of it. From these the outer ones are peeled, only where they stick out
 * at a corner and only while what hangs together stays so, as long as the cut comes nearer to what it should be: what
 * the beam makes of the dots is what counts, since it fills stairs and rounds corners.
 *
 * @param kerf - full widths of the beam, dots
 * @param dot - mm
 */
export function fitDots(found: ShapeClass, kerf: PerAxis, dot: PerAxis): Fitted {
  const { shape } = found;
  if (!(shape.area > NOTHING))
    return { stamp: EMPTY_STAMP, left: 0, top: 0, areaErrorPercent: 0, sideErrorsMm: [0, 0] };
  const rectangle = uprightRectangle(shape);
  if (rectangle) return fittedRectangle(rectangle, kerf, dot);
  const size = (shape.maxX - shape.minX + 2) * (shape.maxY - shape.minY + 2);
  const sides = sidesOf(shape, dot);
  const goal = size <= BEAM_DOTS ? burntBy(shape, kerf, looksFor(size)) : undefined;
  const aim = aimOf(shape, goal);
  const phasesX = phasesOf(shape.maxX - shape.minX, found.mirrorX || !goal, found.halfTurn || size > SMALL_DOTS);
  const phasesY = phasesOf(shape.maxY - shape.minY, found.mirrorY || !goal, found.halfTurn || size > SMALL_DOTS);
  let best: Way | undefined;
  for (const x of phasesX) {
    for (const y of phasesY) {
      const way = new Fitting(laidOn(found, x, y), sides, aim).best();
      if (way.cost < (best?.cost ?? Infinity) - 1e-9) best = way;
    }
  }
  return fittedOf(best as Way, sides, aim);
}

function fittedRectangle(size: PerAxis, kerf: PerAxis, dot: PerAxis): Fitted {
  const { stamp, off, areaErrorPercent } = rectangleOfDots(size, kerf);
  const sideErrorsMm = [off.x * dot.x, off.y * dot.y];
  return { stamp, left: -stamp.width / 2, top: -stamp.height / 2, areaErrorPercent, sideErrorsMm };
}

/** What the dots are to come near to. */
interface Aim {
  readonly burnt?: Burnt;
  /** Dots squared. */
  readonly area: number;
  /** Length of its walls, dots. */
  readonly outline: number;
}

function aimOf(shape: PixelShape, burnt?: Burnt): Aim {
  const { area, walls } = burnt ?? shape;
  let outline = 0;
  for (let at = 0; at < walls.length; at += 4)
    outline += Math.hypot(walls[at + 2] - walls[at], walls[at + 3] - walls[at + 1]);
  return { ...(burnt ? { burnt } : {}), area, outline };
}

/** Dots chosen for one phase. */
interface Way {
  readonly laid: Laid;
  readonly mask: Uint8Array;
  readonly area: number;
  readonly errors: readonly number[];
  readonly cost: number;
}

/** Sizes so near to half a dot are tried at both numbers of dots, dots. */
const TIE_DOTS = 0.08;

/**
 * Where the middle of a shape may lie within a dot. A symmetric one has an odd or an even number of dots, and so its
 * middle in a dot or between two.
 */
function phasesOf(size: number, mirrored: boolean, fixed: boolean): number[] {
  const even = Math.max(1, Math.round(size)) % 2 === 0;
  const own = even ? 0 : 0.5;
  if (!mirrored) return fixed ? [0, 0.5] : [0, 0.25, 0.5, 0.75];
  const tied = size > 1 && Math.abs(size - Math.floor(size) - 0.5) < TIE_DOTS;
  return tied ? [own, 0.5 - own] : [own];
}

/** No width may be off by 0.75 of a dot: from here on an error counts more than all else. */
const WIDE_OFF_DOTS = 0.6;
const costOf = (error: number): number => error ** 2 + 60 * Math.max(0, Math.abs(error) - WIDE_OFF_DOTS) ** 2;
/** How much a wrong area counts beside widths, as the width by which the walls would have to move. */
const AREA_WEIGHT = +(process.env.AW ?? 1);
/** How much the wrongly cut area per dot of outline counts. */
const MISFIT_WEIGHT = +(process.env.MW ?? 0.3);
/** How much of a misfit may be taken into account for an area that comes nearer. */
const AREA_FOR_MISFIT = +(process.env.AM ?? 0.4);
/** Steps taken to bring widths nearer. */
const MAX_STEPS = 24;
/** A width that is off by less is left, dots. */
const NEAR_DOTS = 0.08;

/** The choice of dots for one phase: a walk on which every halt is judged. */
class Fitting {
  private readonly grid: DotGrid;
  private readonly reach: Reach;
  /** Up to where dots may come at either end of each side. */
  private readonly limits: [number, number][];
  /** Dots that carry a width. */
  private readonly held = new Set<number>();

  constructor(
    private readonly laid: Laid,
    private readonly sides: readonly Side[],
    private readonly aim: Aim,
  ) {
    const { columns, rows, middle, touched } = laid;
    this.grid = aim.burnt ? new BeamGrid(touched.slice(), columns, rows, middle, aim.burnt) : new CoverGrid(laid);
    this.reach = new Reach(laid, sides);
    this.limits = sides.map(() => [Infinity, Infinity]);
  }

  best(): Way {
    const all = this.laid.outer.map((_, k) => k);
    this.settle(all, 0);
    let best = this.judge();
    const halt = (): void => {
      const way = this.judge();
      if (way.cost < best.cost - 1e-9) best = way;
    };
    this.settle(all, AREA_FOR_MISFIT);
    halt();
    for (let step = 0; step < MAX_STEPS; step += 1) {
      const changed = this.stepNearer();
      if (changed.length === 0) break;
      halt();
      this.settle(
        changed.flatMap((k) => besides(this.laid, this.laid.outer[k])),
        AREA_FOR_MISFIT,
      );
      halt();
    }
    return best;
  }

  private settle(from: readonly number[], areaWeight: number): void {
    settle(this.laid, this.grid, from, {
      areaGoal: this.aim.area,
      areaWeight,
      mayCome: (k) =>
        this.limits.every((ends, side) => ends.every((most, end) => this.reach.tips[side][end as End][k] <= most)),
      mayGo: (k) => !this.held.has(k),
    });
  }

  private judge(): Way {
    const { grid, laid, aim } = this;
    const errors = this.reach.errors(grid.mask);
    const areaOff = (2 * (grid.area - aim.area)) / aim.outline;
    const cost =
      this.sides.reduce((sum, { weight }, i) => sum + weight * costOf(errors[i]), 0) +
      AREA_WEIGHT * areaOff ** 2 +
      (MISFIT_WEIGHT * grid.misfit) / aim.outline;
    return { laid, mask: grid.mask.slice(), area: grid.area, errors, cost };
  }

  /** One step that brings the worst width nearer, if there is one: the tips that stick out go, or come. */
  private stepNearer(): number[] {
    const { laid, grid, reach, limits, held } = this;
    const worst = this.sides
      .map((_, side) => ({ side, ends: reach.overhang(grid.mask, side) }))
      .sort((p, q) => Math.abs(q.ends[0] + q.ends[1]) - Math.abs(p.ends[0] + p.ends[1]));
    for (const { side, ends } of worst) {
      const error = ends[0] + ends[1];
      if (Math.abs(error) < NEAR_DOTS) return [];
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

function fittedOf({ laid, mask, area, errors }: Way, sides: readonly Side[], aim: Aim): Fitted {
  const { stamp, column, row } = stampFromMask(mask, laid.columns, laid.rows);
  return {
    stamp,
    left: column - laid.middle.x,
    top: row - laid.middle.y,
    areaErrorPercent: (100 * (area - aim.area)) / aim.area,
    sideErrorsMm: errors.slice(0, 2).map((error, i) => error * sides[i].dotMm),
  };
}

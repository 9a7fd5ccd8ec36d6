import { BeamGrid, type Burnt, burntBy } from './beam-grid.js';
import { type Laid, laidOn } from './lay-on-grid.js';
import { freeCorner, stampFromMask } from './masks.js';
import type { ShapeClass } from './shape-classes.js';
import { type Side, sidesOf } from './sides.js';
import { EMPTY_STAMP, type Stamp } from './stamp.js';
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
  const phasesX = phasesOf(shape.maxX - shape.minX, found.mirrorX || !goal, found.halfTurn || size > SMALL_DOTS);
  const phasesY = phasesOf(shape.maxY - shape.minY, found.mirrorY || !goal, found.halfTurn || size > SMALL_DOTS);
  let best: Way | undefined;
  for (const x of phasesX) {
    for (const y of phasesY) {
      const laid = laidOn(found, x, y);
      const way = goal ? peeledByBeam(laid, goal, sides, best?.cost ?? Infinity) : peeledByCover(laid, sides);
      if (way && way.cost < (best?.cost ?? Infinity) - 1e-9) best = way;
    }
  }
  return fittedOf(best as Way, sides, goal);
}

function fittedRectangle(size: PerAxis, kerf: PerAxis, dot: PerAxis): Fitted {
  const { stamp, off, areaErrorPercent } = rectangleOfDots(size, kerf);
  const sideErrorsMm = [off.x * dot.x, off.y * dot.y];
  return { stamp, left: -stamp.width / 2, top: -stamp.height / 2, areaErrorPercent, sideErrorsMm };
}

/** Dots chosen for one phase. */
interface Way {
  readonly laid: Laid;
  readonly mask: Uint8Array;
  readonly area: number;
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

/**
 * How much the area error, percent, counts beside errors in widths squared. A slanted one is as wide as its outermost tips: between them the beam leaves some 0.2 to 0.4 dot of film along each wall,
 * so that either the width or the area comes near, and the width goes first. Without a beam the tips say little.
 */
const AREA_WEIGHT = { beam: 0.003, bare: 0.1 };

/** No width may be off by 0.75 of a dot: from here on an error counts more than all else. */
const WIDE_OFF_DOTS = 0.6;
const costOf = (error: number, own: boolean): number =>
  error ** 2 + (own ? 60 * Math.max(0, Math.abs(error) - WIDE_OFF_DOTS) ** 2 : 0);

/** Lines. */
const THIN_DOTS = 2;
/** How much the wrongly cut area per dot of outline counts. */
const MISFIT_WEIGHT = 0.3;

/** Rounds over all outer dots; hardly ever more than three change anything. */
const MAX_ROUNDS = 8;
/** Steps taken to bring widths nearer. */
const MAX_STEPS = 24;
/** A width that is off by less is left, dots. */
const NEAR_DOTS = 0.08;

function peeledByBeam(laid: Laid, goal: Burnt, sides: readonly Side[], beat: number): Way | undefined {
  const { columns, rows, middle } = laid;
  const grid = new BeamGrid(laid.touched.slice(), columns, rows, middle, goal);
  peel(laid, grid.mask, grid.hasBeam, (orbit) => {
    const before = grid.misfit;
    for (const dot of orbit) grid.toggle(dot);
    if (grid.misfit < before - 1e-9) return true;
    for (const dot of orbit) grid.toggle(dot);
    return false;
  });
  // A line thinner than the dots has more area than it should, whatever is done.
  const thin = !grid.hasBeam && sides.some(({ least, most }) => most - least < THIN_DOTS);
  const areaWeight = thin ? 0 : grid.hasBeam || sides.length === 2 ? AREA_WEIGHT.beam : AREA_WEIGHT.bare;
  let best: Way | undefined;
  const record = (): void => {
    const errors = errorsOf(laid, grid.mask, sides);
    const area = (100 * (grid.area - goal.area)) / goal.area;
    const cost =
      sides.reduce((sum, { weight }, i) => sum + weight * costOf(errors[i], grid.hasBeam && i < 2), 0) +
      areaWeight * area * area +
      (MISFIT_WEIGHT * grid.misfit) / Math.max(8, laid.outer.length);
    if (cost < Math.min(best?.cost ?? Infinity, beat) - 1e-9)
      best = { laid, mask: grid.mask.slice(), area: grid.area, cost };
  };
  trimToArea(laid, grid, goal, sides);
  record();
  for (let step = 0; step < MAX_STEPS && stepNearer(laid, grid, sides); step += 1) {
    record();
    if (sides.length > 2 && fillToArea(laid, grid, goal, sides)) record();
  }
  return best;
}

/**
 * The stairs of a leaning wall stick out by half a dot at either end when dots are taken that are covered by half, so
 * that a large slanted shape comes out a dot too wide; with dots that are covered by more it loses that much in between.
 */
const COVERS = [0.5, 0.6, 0.75, 0.9];

/** Without the beam, for what is too large for it: dots that are covered by half or more, whichever gives the truest widths. */
function peeledByCover(laid: Laid, sides: readonly Side[]): Way {
  const ways = COVERS.map((least): Way => {
    const mask = laid.touched.slice();
    peelCovered(laid, mask, least);
    const area = mask.reduce((sum, on) => sum + on, 0);
    return { laid, mask, area, cost: errorsOf(laid, mask, sides).reduce((sum, e) => sum + e * e, 0) };
  });
  return ways.reduce((best, way) => (way.cost < best.cost - 1e-9 ? way : best));
}

/** Takes away what is covered by less, along each stair from its end on: a long one is hundreds of dots. */
function peelCovered(laid: Laid, mask: Uint8Array, least: number): void {
  const { columns, outer } = laid;
  const going = outer.filter(({ cover }) => cover < least);
  const orbitOf = new Map(going.flatMap((orbit) => orbit.dots.map((dot) => [dot, orbit] as const)));
  const next = going.toReversed();
  for (let orbit = next.pop(); orbit; orbit = next.pop()) {
    const { dots } = orbit;
    if (mask[dots[0]] === 0 || !canGo(dots, mask, laid, false)) continue;
    for (const dot of dots) {
      mask[dot] = 0;
      for (const beside of [dot - 1, dot + 1, dot - columns, dot + columns]) {
        const other = orbitOf.get(beside);
        if (other && mask[beside] === 1) next.push(other);
      }
    }
  }
}

/**
 * Takes away outer dots, equals together, where `takes` says so and nothing falls apart.
 *
 * @param ends - whether the ends of thin lines may go; without a beam every dot of such a line looks needless
 */
function peel(laid: Laid, mask: Uint8Array, ends: boolean, takes: (orbit: readonly number[]) => boolean): void {
  for (let round = 0, changed = true; changed && round < MAX_ROUNDS; round += 1) {
    changed = false;
    for (const { dots } of laid.outer) {
      if (mask[dots[0]] === 0 || !canGo(dots, mask, laid, ends)) continue;
      if (takes(dots)) changed = true;
    }
  }
}

/** Whether all dots of an orbit stick out at corners, one after the other, and can go without tearing anything. */
function canGo(dots: readonly number[], mask: Uint8Array, { columns, rows }: Laid, ends: boolean): boolean {
  let gone = 0;
  while (gone < dots.length && mask[dots[gone]] === 1 && freeCorner(mask, columns, rows, dots[gone], ends)) {
    mask[dots[gone]] = 0;
    gone += 1;
  }
  for (let i = 0; i < gone; i += 1) mask[dots[i]] = 1;
  return gone === dots.length;
}

/** How far dots reach along a side, less how far they should, in dots, at either end. */
function overhang({ columns, middle }: Laid, mask: Uint8Array, side: Side): [low: number, high: number] {
  const rows = mask.length / columns;
  let [least, most] = [Infinity, -Infinity];
  const [x0, x1] = [Math.min(0, side.x), Math.max(0, side.x)];
  const [y0, y1] = [Math.min(0, side.y), Math.max(0, side.y)];
  for (let row = 0; row < rows; row += 1) {
    const first = mask.indexOf(1, row * columns);
    if (first < 0 || first >= (row + 1) * columns) continue;
    const last = mask.lastIndexOf(1, (row + 1) * columns - 1);
    for (const dot of [first, last]) {
      const place = side.x * (dot - row * columns - middle.x) + side.y * (row - middle.y);
      least = Math.min(least, place + x0 + y0);
      most = Math.max(most, place + x1 + y1);
    }
  }
  return [side.least - least, most - side.most];
}

function errorsOf(laid: Laid, mask: Uint8Array, sides: readonly Side[]): number[] {
  return sides.map((side) => {
    const [low, high] = overhang(laid, mask, side);
    return low + high;
  });
}

/** One step that brings the worst of the own widths nearer, if there is one: the tips that stick out go, or come. */
function stepNearer(laid: Laid, grid: BeamGrid, sides: readonly Side[]): boolean {
  const worst = sides
    .slice(0, 2)
    .map((side) => ({ side, ends: overhang(laid, grid.mask, side) }))
    .sort((p, q) => Math.abs(q.ends[0] + q.ends[1]) - Math.abs(p.ends[0] + p.ends[1]));
  for (const { side, ends } of worst) {
    const error = ends[0] + ends[1];
    if (Math.abs(error) < NEAR_DOTS) return false;
    const high = error > 0 === ends[1] > ends[0];
    if (error > 0 ? cutTips(laid, grid, side, high, error) : growTip(laid, grid, side, high, error)) return true;
  }
  return false;
}

/** The outermost place of a dot along a side. */
function tipOf({ columns, middle }: Laid, dot: number, side: Side, high: boolean): number {
  const row = Math.floor(dot / columns);
  const place = side.x * (dot - row * columns - middle.x) + side.y * (row - middle.y);
  return high
    ? place + Math.max(0, side.x) + Math.max(0, side.y)
    : -(place + Math.min(0, side.x) + Math.min(0, side.y));
}

/** Tips that stand out by so little less than the outermost one go with it, dots. */
const SAME_TIP_DOTS = 0.1;

function cutTips(laid: Laid, grid: BeamGrid, side: Side, high: boolean, error: number): boolean {
  const { mask } = grid;
  const burnt = laid.outer.filter(({ dots }) => dots.some((dot) => mask[dot] === 1));
  const tip = (dots: readonly number[]): number => Math.max(...dots.map((dot) => tipOf(laid, dot, side, high)));
  const most = burnt.reduce((far, { dots }) => Math.max(far, tip(dots)), -Infinity);
  const less = most - Math.min(SAME_TIP_DOTS, error / 2);
  const tips = burnt.filter(({ dots }) => tip(dots) > less);
  let cut = false;
  for (const { dots } of tips) {
    const round = canGo(dots, mask, laid, true) ? [] : detour(laid, mask, dots, (way) => tip(way) < less);
    if (!round) continue;
    for (const dot of [...round, ...dots]) grid.toggle(dot);
    cut = true;
  }
  return cut;
}

/** Where a line as thin as a dot hangs on a tip: dots beside it over which the line can go instead. */
function detour(
  laid: Laid,
  mask: Uint8Array,
  tip: readonly number[],
  farther: (way: readonly number[]) => boolean,
): readonly number[] | undefined {
  const { columns, outer } = laid;
  const [dot] = tip;
  const near = [1, columns - 1, columns, columns + 1].flatMap((step) => [dot - step, dot + step]);
  for (const { dots: way } of outer) {
    if (mask[way[0]] === 1 || way.length !== tip.length || !way.some((one) => near.includes(one))) continue;
    if (!farther(way)) continue;
    for (const one of way) mask[one] = 1;
    const goes = canGo(tip, mask, laid, true);
    for (const one of way) mask[one] = 0;
    if (goes) return way;
  }
  return undefined;
}

function growTip(laid: Laid, grid: BeamGrid, side: Side, high: boolean, error: number): boolean {
  const { mask } = grid;
  const { columns, outer } = laid;
  let now = -Infinity;
  for (let dot = 0; dot < mask.length; dot += 1) if (mask[dot] === 1) now = Math.max(now, tipOf(laid, dot, side, high));
  const near = outer.filter(({ dots }) =>
    dots.every((dot) => mask[dot] === 0 && touches(mask, columns, laid.rows, dot)),
  );
  let best: { dots: readonly number[]; left: number } | undefined;
  for (const { dots } of near) {
    const more = Math.max(...dots.map((dot) => tipOf(laid, dot, side, high))) - now;
    if (more <= 1e-6) continue;
    // Equals at both ends count twice.
    const left = Math.abs(error + more * (dots.length > 1 ? 2 : 1));
    if (left < Math.abs(error) - 1e-6 && (!best || left < best.left)) best = { dots, left };
  }
  for (const dot of best?.dots ?? []) grid.toggle(dot);
  return best !== undefined;
}

function touches(mask: Uint8Array, columns: number, rows: number, dot: number): boolean {
  const [row, column] = [Math.floor(dot / columns), dot % columns];
  return (
    (column > 0 && mask[dot - 1] === 1) ||
    (column + 1 < columns && mask[dot + 1] === 1) ||
    (row > 0 && mask[dot - columns] === 1) ||
    (row + 1 < rows && mask[dot + columns] === 1)
  );
}

/** Corner by corner, as long as the area comes nearer and no width changes. */
function trimToArea(laid: Laid, grid: BeamGrid, goal: Burnt, sides: readonly Side[]): void {
  const { columns, rows, outer } = laid;
  const before = errorsOf(laid, grid.mask, sides)
    .map((e) => e.toFixed(6))
    .join();
  for (const { dots } of outer) {
    const over = grid.area - goal.area;
    if (over <= 0) return;
    if (grid.mask[dots[0]] === 0 || !canGo(dots, grid.mask, laid, grid.hasBeam)) continue;
    const misfit = grid.misfit;
    for (const dot of dots) grid.toggle(dot);
    const keeps =
      Math.abs(grid.area - goal.area) < over - 1e-9 &&
      grid.misfit - misfit < MOST_TRIM * dots.length &&
      dots.every((dot) => touches(grid.mask, columns, rows, dot)) &&
      errorsOf(laid, grid.mask, sides)
        .map((e) => e.toFixed(6))
        .join() === before;
    if (!keeps) for (const dot of dots) grid.toggle(dot);
  }
}

/** Dots between the tips of slanted walls, as long as the area comes nearer: none of them makes the shape's own widths wider. */
function fillToArea(laid: Laid, grid: BeamGrid, goal: Burnt, sides: readonly Side[]): boolean {
  const { columns, rows, outer } = laid;
  const { mask } = grid;
  const limits = sides.slice(0, 2).map((side) => {
    const [low, high] = overhang(laid, mask, side);
    return { side, low: low - side.least + 1e-6, high: high + side.most + 1e-6 };
  });
  let filled = false;
  for (let k = outer.length - 1; k >= 0; k -= 1) {
    const under = goal.area - grid.area;
    if (under <= 0) break;
    const { dots } = outer[k];
    if (mask[dots[0]] === 1 || !canCome(dots, mask, laid)) continue;
    const within = dots.every((dot) =>
      limits.every(
        ({ side, low, high }) => tipOf(laid, dot, side, true) <= high && tipOf(laid, dot, side, false) <= low,
      ),
    );
    if (!within || !dots.every((dot) => touches(mask, columns, rows, dot))) continue;
    for (const dot of dots) grid.toggle(dot);
    if (Math.abs(goal.area - grid.area) < under) filled = true;
    else for (const dot of dots) grid.toggle(dot);
  }
  return filled;
}

/** Whether all dots of an orbit fill corners, one after the other, without closing anything. */
function canCome(dots: readonly number[], mask: Uint8Array, { columns, rows }: Laid): boolean {
  let come = 0;
  while (come < dots.length && mask[dots[come]] === 0 && freeCorner(mask, columns, rows, dots[come], true)) {
    mask[dots[come]] = 1;
    come += 1;
  }
  for (let i = 0; i < come; i += 1) mask[dots[i]] = 0;
  return come === dots.length;
}

/** A corner is not trimmed for the area where the cut gets worse by more than this, dots squared each. */
const MOST_TRIM = 0.5;

function fittedOf({ laid, mask, area }: Way, sides: readonly Side[], goal: Burnt | undefined): Fitted {
  const { stamp, column, row } = stampFromMask(mask, laid.columns, laid.rows);
  const wanted = goal?.area ?? laid.area;
  return {
    stamp,
    left: column - laid.middle.x,
    top: row - laid.middle.y,
    areaErrorPercent: (100 * (area - wanted)) / wanted,
    sideErrorsMm: errorsOf(laid, mask, sides)
      .slice(0, 2)
      .map((error, i) => error * sides[i].dotMm),
  };
}

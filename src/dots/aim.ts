import { ringArea } from '../geometry/area.js';
import { convexHull } from '../geometry/oriented-box.js';
import type { PerAxis, Point } from '../geometry/types.js';
import type { Burnt } from './beam-grid.js';
import type { PixelShape } from './shape.js';
import type { PadSide } from './sides.js';

/** What the dots are to come near to. */
export interface Aim {
  readonly burnt?: Burnt;
  /** Dots squared. */
  readonly area: number;
  /** Less area than this is off, dots squared: of what was asked, with what corners lose to the beam. */
  readonly leastArea: number;
  /** Length of its walls, dots. */
  readonly outline: number;
  /** Whether its own two sides lie along the dots: such walls have no tips. */
  readonly upright: boolean;
  /** Whether it is a slanted pad: bulging all around, with walls that have tips. */
  readonly slantedPad: boolean;
  /** Sharp corners, in dots from the middle. */
  readonly corners: readonly Point[];
}

export function aimOf(shape: PixelShape, sides: readonly PadSide[], kerf: PerAxis, burnt?: Burnt): Aim {
  const { area, walls } = burnt ?? shape;
  let outline = 0;
  for (let at = 0; at < walls.length; at += 4)
    outline += Math.hypot(walls[at + 2] - walls[at], walls[at + 3] - walls[at + 1]);
  const upright = sides.slice(0, 2).every((side) => side.upright);
  const slantedPad = !upright && bulges(shape);
  const least = leastArea(area, lostAtCorners(shape, kerf));
  const corners = cornersOf(shape);
  return { ...(burnt ? { burnt } : {}), area, leastArea: least, outline, upright, slantedPad, corners };
}

/** Less area than this is off: of what can be burnt, with what corners lose to the beam. */
function leastArea(area: number, lost: number): number {
  return Math.min((1 - WIDE_OFF_PERCENT / 100) * (area + lost), MOST_MADE_UP * area);
}

/** The share of its hull that a shape fills at least if it is a pad; traced walls wobble. */
const BULGING = 0.98;

function bulges({ walls, area }: PixelShape): boolean {
  const hull = convexHull(Array.from({ length: walls.length / 4 }, (_, i): Point => [walls[4 * i], walls[4 * i + 1]]));
  return area > BULGING * Math.abs(ringArea(hull));
}

/** Cosine of the turn from which on a corner is sharp: between what lies a dot before and behind, so that round ones count. */
const SHARP_COS = Math.cos(Math.PI / 6);

function cornersOf({ walls }: PixelShape): Point[] {
  const corners: Point[] = [];
  for (let first = 0, end = 4; first < walls.length; first = end, end += 4) {
    while (end < walls.length && walls[end] === walls[end - 2] && walls[end + 1] === walls[end - 1]) end += 4;
    const n = (end - first) / 4;
    const point = (k: number): Point => [walls[first + 4 * (k % n)], walls[first + 4 * (k % n) + 1]];
    for (let k = 0; k < n; k += 1) {
      const [x, y] = point(k);
      const away = (step: number): Point => {
        for (let by = 1; by < n; by += 1) {
          const [u, v] = point(k + n + step * by);
          if (Math.hypot(u - x, v - y) >= 1) return [u - x, v - y];
        }
        return [0, 0];
      };
      const [[ux, uy], [vx, vy]] = [away(-1), away(1)];
      if (-ux * vx - uy * vy < SHARP_COS * Math.hypot(ux, uy) * Math.hypot(vx, vy)) corners.push([x, y]);
    }
  }
  return corners;
}

/**
 * What the beam leaves at the corners of the opening that a shape stands for, if these are sharp, dots squared: a corner
 * that turns by an angle is the kite of its two tangents less the beam's sector.
 */
function lostAtCorners({ walls }: Pick<PixelShape, 'walls'>, kerf: PerAxis): number {
  const [rx, ry] = [kerf.x / 2, kerf.y / 2];
  if (rx * ry === 0) return 0;
  let [doubled, left, right, first] = [0, 0, 0, 0];
  for (let at = 0; at < walls.length; at += 4) {
    doubled += walls[at] * walls[at + 3] - walls[at + 2] * walls[at + 1];
    const ends = walls[at + 4] !== walls[at + 2] || walls[at + 5] !== walls[at + 3];
    const next = ends ? first : at + 4;
    if (ends) first = at + 4;
    const [ux, uy] = [(walls[at + 2] - walls[at]) / rx, (walls[at + 3] - walls[at + 1]) / ry];
    const [vx, vy] = [(walls[next + 2] - walls[next]) / rx, (walls[next + 3] - walls[next + 1]) / ry];
    const half = Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy) / 2;
    if (half > 0) left += Math.tan(half) - half;
    else right += Math.tan(-half) + half;
  }
  return rx * ry * (doubled > 0 ? left : right);
}

/** No width may be off by 0.75 of a dot, and no area by 5 %: from here on an error counts more. */
export const WIDE_OFF_DOTS = 0.6;
const WIDE_OFF_PERCENT = 4.5;
/** What corners lose is made up for by no more than this, as a share of what can be burnt at all: walls would move too far. */
const MOST_MADE_UP = 1.03;
const AREA_STEEPNESS = 1;
/** No more than this, so that no width is given up for the area of a line that is thinner than the dots. */
const MOST_FOR_AREA = 1;
/** The share of it for upright walls: they have no tips, and get the nearest number of dots. */
const UPRIGHT_SHARE = 0.075;
/** How much a wrong area counts beside wrong widths, as the width by which the walls would have to move. */
const AREA_WEIGHT = 0.6;
/**
 * Of slanted pads the tips stand out where the area is right: the widths' mean is to be right too, so that pads do not come
 * out large on the whole. A percent of area counts as a tenth of a dot, and each percent beyond the limit for more; nothing
 * counts for as much as a width that is off by `widestDots` or more.
 */
const PAD = { meanWeight: 2, percentWeight: 0.01, steepness: 2, widestDots: 0.7, widest: 4000 };
/** How much the wrongly cut area per dot of outline counts: upright walls have no tips, and each is to lie where it belongs. */
const MISFIT_WEIGHT = { slanted: 0.1, upright: 0.4 };
/**
 * Nothing fills stairs without the beam: tips then stand out far and say little, and each percent of the area counts, up
 * to some; what is trimmed or filled for it may be wrong itself.
 */
const BARE = { areaWeight: 0.1, mostForArea: 10, nearPercent: 2 };
/** A corner that lies farther from the dots is cut off, dots: the last look lists it. */
export const CUT_OFF_DOTS = 1;
/** Each counts by how much farther it lies, and as much as a width that is off by half a dot at most. */
const CUT_OFF = { weight: 8, most: 0.3 };
/** Dots that are near and cost less are as good as any: both widths are off by a fifth of a dot, say. */
const GOOD_COST = 0.1;

/** What some dots give. */
export interface Given {
  /** Burnt, dots squared. */
  readonly area: number;
  /** Wrongly burnt and wrongly left, dots squared. */
  readonly misfit: number;
  /** What they are too long along each side, dots. */
  readonly errors: readonly number[];
  /** How far each corner lies from them, dots. */
  readonly corners: readonly number[];
}

/** What the errors of some dots cost, whether widths and area are as near as they should be, and whether it pays to look further. */
export function costOf({ area, misfit, errors, corners }: Given, sides: readonly PadSide[], aim: Aim, bare: boolean) {
  const over = area - aim.area;
  const percent = (100 * over) / aim.area;
  const beyond = Math.max(0, percent - WIDE_OFF_PERCENT, (100 * (aim.leastArea - area)) / aim.area);
  const misfitWeight = aim.upright ? MISFIT_WEIGHT.upright : MISFIT_WEIGHT.slanted;
  const own = bare
    ? bareCost(errors, percent)
    : widthCost(errors, sides) + areaCost(errors, { percent, beyond, over }, aim);
  const cost = own + (misfitWeight * misfit) / aim.outline + cornerCost(corners);
  const isNear =
    (beyond === 0 && errors.every((e) => Math.abs(e) <= WIDE_OFF_DOTS)) ||
    (bare && Math.abs(percent) <= BARE.nearPercent);
  return { cost, isNear, isGood: isNear && cost < GOOD_COST };
}

function widthCost(errors: readonly number[], sides: readonly PadSide[]): number {
  return sides.reduce((sum, { weight, steepness }, i) => {
    const beyond = Math.max(0, Math.abs(errors[i]) - WIDE_OFF_DOTS);
    return sum + weight * errors[i] ** 2 + steepness * beyond ** 2;
  }, 0);
}

function areaCost(
  [width, height]: readonly number[],
  { percent, beyond, over }: { readonly percent: number; readonly beyond: number; readonly over: number },
  { outline, upright, slantedPad }: Aim,
): number {
  if (slantedPad) {
    const area = PAD.percentWeight * percent ** 2 + PAD.steepness * beyond;
    const wide = Math.max(0, Math.abs(width) - PAD.widestDots) + Math.max(0, Math.abs(height) - PAD.widestDots);
    return area + PAD.meanWeight * ((width + height) / 2) ** 2 + PAD.widest * wide ** 2;
  }
  const share = upright ? UPRIGHT_SHARE : 1;
  const asWidth = (2 * over) / outline;
  return AREA_WEIGHT * asWidth ** 2 + share * Math.min(MOST_FOR_AREA, AREA_STEEPNESS * beyond ** 2);
}

function cornerCost(corners: readonly number[]): number {
  return corners.reduce(
    (sum, far) => sum + Math.min(CUT_OFF.most, CUT_OFF.weight * Math.max(0, far - CUT_OFF_DOTS)),
    0,
  );
}

function bareCost([width, height]: readonly number[], percent: number): number {
  return width ** 2 + height ** 2 + Math.min(BARE.mostForArea, BARE.areaWeight * percent ** 2);
}

import { openingArea } from '../geometry/area.js';
import { subtractRegions } from '../geometry/boolean.js';
import { regionBounds } from '../geometry/bounds.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { Point, Region, Ring } from '../geometry/types.js';
import { fartherThan, wallsOf } from '../geometry/walls.js';
import { budgetInForce } from '../geometry/work-budget.js';
import type { MachineModel } from './types.js';

type Kerf = Pick<MachineModel, 'kerfXMm' | 'kerfYMm'>;

/**
 * Slivers of rounding hang corners together that lie a whole wall apart: what is thinner than this is not there, mm. A
 * fortieth of a dot at 1000 dpi.
 */
const SLIVER_MM = 1e-3;

/** Of the wider kerf squared: more than what is lost at a corner of 60 degrees, whichever way it is turned. */
const PART_AREA_SHARE = 0.5;

/** Of a small opening, a part that reaches beyond what comes back by this share of its size counts. */
const REACH_SHARE = 0.04;

/**
 * How deep the beam rounds a corner of 60 degrees at most, whichever way it is turned: towards the narrower kerf its
 * middle stays sqrt(3 kx² + ky²) / 2 away, and it reaches half the narrower kerf from there.
 */
const sixtyDepth = (most: number, least: number): number => (Math.sqrt(3 * most * most + least * least) - least) / 2;

/**
 * The same for a right corner: the middle stays hypot(kx, ky) / 2 away (the orthoptic circle of an ellipse).
 */
const rightDepth = (most: number, least: number): number => (Math.hypot(most, least) - least) / 2;

/**
 * The parts of a region that do not come back: limbs narrower than the kerf, and long tips alike. A part is told from a
 * mere corner by how deep it reaches beyond what comes back; the corners that every beam rounds are none.
 *
 * @param comesBack - the region opened by the beam
 */
export function lostParts(region: Region, comesBack: readonly Region[], kerf: Kerf): Region[] {
  const most = Math.max(kerf.kerfXMm, kerf.kerfYMm);
  const corner = sixtyDepth(most, Math.min(kerf.kerfXMm, kerf.kerfYMm)) + 2 * SLIVER_MM;
  const deep = Math.max(corner, Math.min(most, REACH_SHARE * diagonal(region)));
  const isLarge = (part: Region): boolean => openingArea(part) > PART_AREA_SHARE * most * most;
  const mayBePart = (lost: Region): boolean => diagonal(lost) > deep || isLarge(lost);
  return subtractRegions([region], comesBack)
    .filter(mayBePart)
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, -1))
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, 1))
    .filter((part) => mayBePart(part) && (isLarge(part) || reachesBeyond(deep, part, comesBack)));
}

function diagonal(region: Region): number {
  const { minX, minY, maxX, maxY } = regionBounds(region);
  return Math.hypot(maxX - minX, maxY - minY);
}

/** What a look at a corner and a wall costs, in the units of `WorkBudget`. */
const LOOK_COST = 2;

/** Whether a lost part reaches further beyond what comes back than a depth. */
function reachesBeyond(depthMm: number, part: Region, comesBack: readonly Region[]): boolean {
  const corners = [part.outer, ...part.islands].flat();
  return fartherThan(depthMm, regionBounds(part), corners, comesBack.map(wallsOf)).length > 0;
}

/**
 * Whether an outline around which nothing falls apart can have lost no more than corners: no corner of it lies deeper
 * beyond what comes back than a right one, so no limb does. Quick, and on the safe side.
 */
export function losesCornersAlone(outline: Ring, smaller: Ring, kerf: Kerf): boolean {
  const { kerfXMm, kerfYMm } = kerf;
  const deep = rightDepth(Math.max(kerfXMm, kerfYMm), Math.min(kerfXMm, kerfYMm)) + SLIVER_MM;
  const [rx, ry] = [kerf.kerfXMm / 2, kerf.kerfYMm / 2];
  const isNear = ([x, y]: Point, [cx, cy]: Point): boolean => {
    const [dx, dy] = [x - cx, y - cy];
    const far = Math.hypot(dx, dy);
    // The beam's edge in that direction lies at the share 1 / norm of the way.
    const norm = Math.hypot(dx / rx, dy / ry);
    return far - far / norm <= deep;
  };
  const count = smaller.length;
  let at = 0;
  return outline.every((corner, k) => {
    if (isStraight(outline.at(k - 1) as Point, corner, outline[(k + 1) % outline.length])) return true;
    // Both run the same way round: the next corner's is the last one's, or beside it.
    for (let looked = 0; looked <= count >> 1; looked += 1) {
      for (const i of [(at + looked) % count, (at - looked + count) % count]) {
        if (!isNear(corner, smaller[i])) continue;
        budgetInForce()?.spend(LOOK_COST * (looked + 1));
        at = i;
        return true;
      }
    }
    budgetInForce()?.spend(LOOK_COST * count);
    return false;
  });
}

/** Corners that turn by less, as sine, lie along a wall, where what is drawn in has none. */
const STRAIGHT = 1e-6;

function isStraight([ax, ay]: Point, [bx, by]: Point, [cx, cy]: Point): boolean {
  const [ux, uy, vx, vy] = [bx - ax, by - ay, cx - bx, cy - by];
  return Math.abs(ux * vy - uy * vx) <= STRAIGHT * Math.hypot(ux, uy) * Math.hypot(vx, vy) && ux * vx + uy * vy > 0;
}

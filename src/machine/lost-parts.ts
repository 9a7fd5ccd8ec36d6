import { openingArea } from '../geometry/area.js';
import { subtractRegions } from '../geometry/boolean.js';
import { regionBounds } from '../geometry/bounds.js';
import { effortInForce } from '../geometry/effort.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { Region, Ring } from '../geometry/types.js';
import { fartherThan, wallsOf } from '../geometry/walls.js';
import type { MachineModel } from './types.js';

type Kerf = Pick<MachineModel, 'kerfXMm' | 'kerfYMm'>;

/**
 * Slivers of rounding hang corners together that lie a whole wall apart: what is thinner than this is not there, mm. A
 * fortieth of a dot at 1000 dpi.
 */
const SLIVER_MM = 1e-3;

/** Of the wider kerf squared: more than what is lost at a right corner, whichever way it is turned (a quarter). */
const PART_AREA_SHARE = 0.5;

/** Share of an opening that its corners may lose before those sharper than right ones count as lost parts. */
const CORNERS_SHARE = 0.04;

/**
 * How deep the beam rounds a right corner at most, whichever way it is turned: its middle stays hypot(kx, ky) / 2 away
 * from the corner (the orthoptic circle of an ellipse), and it reaches at least half the narrower kerf from there.
 */
export const cornerDepth = ({ kerfXMm, kerfYMm }: Kerf): number =>
  (Math.hypot(kerfXMm, kerfYMm) - Math.min(kerfXMm, kerfYMm)) / 2;

/**
 * The parts of a region that do not come back: limbs narrower than the kerf, and long tips alike. A part is told from a
 * mere corner by how deep it reaches beyond what comes back; the corners that every beam rounds are none.
 *
 * @param comesBack - the region opened by the beam
 */
export function lostParts(region: Region, comesBack: readonly Region[], kerf: Kerf): Region[] {
  const whole = openingArea(region);
  const most = Math.max(kerf.kerfXMm, kerf.kerfYMm);
  const corner = cornerDepth(kerf) + 2 * SLIVER_MM;
  const lostShare = 1 - comesBack.reduce((sum, one) => sum + openingArea(one), 0) / whole;
  const deep = lostShare > CORNERS_SHARE ? corner : most;
  const isPart = (part: Region): boolean =>
    openingArea(part) > PART_AREA_SHARE * most * most || reachesBeyond(deep, part, comesBack);
  return subtractRegions([region], comesBack)
    .filter((lost) => diagonal(lost) > corner)
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, -1))
    .flatMap((lost) => offsetByEllipse(lost, SLIVER_MM, SLIVER_MM, 1))
    .filter((lost) => diagonal(lost) > deep || openingArea(lost) > PART_AREA_SHARE * most * most)
    .filter(isPart);
}

function diagonal(region: Region): number {
  const { minX, minY, maxX, maxY } = regionBounds(region);
  return Math.hypot(maxX - minX, maxY - minY);
}

/** What a look at a corner and a wall costs, in the units of `Effort`. */
const LOOK_COST = 0.1;

/** Whether a lost part reaches further beyond what comes back than a depth. */
function reachesBeyond(depthMm: number, part: Region, comesBack: readonly Region[]): boolean {
  const corners = [part.outer, ...part.islands].flat();
  return fartherThan(depthMm, regionBounds(part), corners, comesBack.map(wallsOf)).length > 0;
}

/**
 * Whether a convex outline can have lost no more than corners: no corner of it lies deeper beyond what comes back than
 * a right one. Quick, and on the safe side.
 */
export function losesCornersAlone(outline: Ring, smaller: Ring, kerf: Kerf): boolean {
  const deep = cornerDepth(kerf) + SLIVER_MM;
  const [rx, ry] = [kerf.kerfXMm / 2, kerf.kerfYMm / 2];
  effortInForce()?.spend(LOOK_COST * outline.length * smaller.length);
  return outline.every(([x, y]) =>
    smaller.some(([cx, cy]) => {
      const [dx, dy] = [x - cx, y - cy];
      const far = Math.hypot(dx, dy);
      // The beam's edge in that direction lies at the share 1 / norm of the way.
      const norm = Math.hypot(dx / rx, dy / ry);
      return far - far / norm <= deep;
    }),
  );
}

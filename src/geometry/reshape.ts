import { JoinType } from 'clipper2-ts';
import { openingArea, openingCentroid, openingPerimeter } from './area.js';
import { ringBounds } from './bounds.js';
import { isConvex } from './convex.js';
import { moveRings, offsetByEllipse } from './offset.js';
import { CHORD_TOLERANCE_MM } from './shapes.js';
import type { Point, Region, Ring } from './types.js';

/** Corners sharper than about 29 degrees are cut off instead of running far out. */
const MITRE_LIMIT = 4;

/**
 * Moves all walls outwards (`deltaMm` > 0) or inwards by the same distance and keeps corners sharp: a rectangle stays one.
 *
 * @returns none, one or several regions
 */
export function moveWalls(region: Region, deltaMm: number): Region[] {
  if (deltaMm === 0) return [region];
  const roomMm = Math.max(0, deltaMm) * MITRE_LIMIT;
  const mitred = { join: JoinType.Miter, miterLimit: MITRE_LIMIT, arcToleranceMm: 0, roomMm };
  return moveRings([region.outer, ...region.islands], deltaMm, mitred);
}

/** Rounds outstanding corners: the region opened by a disc. Never leaves the region. */
export function roundCorners(region: Region, radiusMm: number): Region[] {
  return moveWalls(region, -radiusMm).flatMap((core) =>
    offsetByEllipse(core, 2 * radiusMm, 2 * radiusMm, 1, CHORD_TOLERANCE_MM),
  );
}

/** Scales a region about a point, by `along` in the direction `angleDeg` and by `across` square to it. */
export function stretch(region: Region, about: Point, angleDeg: number, along: number, across: number): Region {
  const angle = (angleDeg * Math.PI) / 180;
  const [c, s] = angleDeg === 0 ? [1, 0] : [Math.cos(angle), Math.sin(angle)];
  const move = ([x, y]: Point): Point => {
    const u = ((x - about[0]) * c + (y - about[1]) * s) * along;
    const v = ((y - about[1]) * c - (x - about[0]) * s) * across;
    return [about[0] + u * c - v * s, about[1] + u * s + v * c];
  };
  const ring = (points: Ring): Ring => points.map(move);
  return { ...region, outer: ring(region.outer), islands: region.islands.map(ring) };
}

const AREA_STEPS = 40;

/**
 * The wall movement that brings the summed area of some regions to a target: Newton's steps (the area changes with the
 * walls' length), kept in a bracket that is halved when a step leaves it.
 *
 * @param sign - 1 to grow, -1 to shrink
 * @param mostMm - movement that surely suffices
 */
export function wallsToArea(regions: readonly Region[], targetMm2: number, sign: 1 | -1, mostMm: number): number {
  const at = (delta: number): { area: number; walls: number } => {
    const pieces = regions.flatMap((region) => moveWalls(region, sign * delta));
    return {
      area: pieces.reduce((sum, piece) => sum + openingArea(piece), 0),
      walls: pieces.reduce((sum, piece) => sum + openingPerimeter(piece), 0),
    };
  };
  let [low, high, delta] = [0, mostMm, 0];
  for (let i = 0; i < AREA_STEPS; i += 1) {
    const { area, walls } = at(delta);
    const missing = sign * (targetMm2 - area);
    if (Math.abs(missing) <= 1e-9 * Math.max(1, targetMm2) || high - low < 1e-9) break;
    if (missing > 0) low = delta;
    else high = delta;
    const step = walls > 0 ? delta + missing / walls : (low + high) / 2;
    delta = step > low && step < high ? step : (low + high) / 2;
  }
  return sign * delta;
}

/**
 * Shrinks a region to a share of its area without leaving it: about its centre where that can be done (convex, no
 * islands), which keeps the width of a slot best, else by moving all walls inwards.
 *
 * @param share - 0 < share < 1
 */
export function shrinkToShare(region: Region, share: number): Region[] {
  if (region.islands.length === 0 && isConvex(region.outer)) {
    const factor = Math.sqrt(share);
    return [stretch(region, openingCentroid(region), 0, factor, factor)];
  }
  const box = ringBounds(region.outer);
  const most = Math.max(box.maxX - box.minX, box.maxY - box.minY) / 2;
  return moveWalls(region, wallsToArea([region], openingArea(region) * share, -1, most));
}

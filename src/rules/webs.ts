import { regionBounds } from '../geometry/bounds.js';
import { boxDistance } from '../geometry/box-distance.js';
import { boxIndex } from '../geometry/box-index.js';
import { firstCorner } from '../geometry/copies.js';
import { largest } from '../geometry/extremes.js';
import type { Region } from '../geometry/types.js';
import { insideRegion, type Nearest, nearestBetween, wallsOf } from '../geometry/walls.js';

/** The film between two openings. */
export interface Web extends Nearest {
  /** Positions in the list of openings, counting from 0; `from` lies on p, `to` on q. */
  readonly p: number;
  readonly q: number;
}

/** Whether one opening lies in the other: their walls may be apart, and yet no film stands between them. */
function overlap(p: Region, q: Region): boolean {
  return insideRegion(firstCorner(p), q) || insideRegion(firstCorner(q), p);
}

function webBetween(
  regions: readonly Region[],
  p: number,
  q: number,
  limitMm: number,
  walls = wallsOf(regions[p]),
): Web | undefined {
  const others = wallsOf(regions[q]);
  const nearest = nearestBetween(walls, others, limitMm);
  const inside = boxDistance(walls.box, others.box) === 0 && overlap(regions[p], regions[q]);
  if (inside) return { p, q, distanceMm: 0, from: firstCorner(regions[p]), to: firstCorner(regions[p]) };
  return nearest && { ...nearest, p, q };
}

/** All webs narrower than a limit, each pair once, ascending by p, then q. */
export function websBelow(regions: readonly Region[], limitMm: number): Web[] {
  const boxes = regions.map(regionBounds);
  const index = boxIndex(boxes);
  const webs: Web[] = [];
  boxes.forEach((box, p) => {
    for (const q of index.near(box, limitMm)) {
      if (q <= p) continue;
      const web = webBetween(regions, p, q, limitMm);
      if (web && web.distanceMm < limitMm) webs.push(web);
    }
  });
  return webs;
}

/** Webs that differ by less are alike, mm: most of a row's are, but for rounding. */
const SAME_MM = 1e-9;

/** The narrowest web between any two, mm; undefined when none is narrower than the limit. */
export function narrowestWeb(regions: readonly Region[], limitMm: number): number | undefined {
  const boxes = regions.map(regionBounds);
  const index = boxIndex(boxes);
  let least = limitMm;
  boxes.forEach((box, p) => {
    for (const q of index.near(box, least)) {
      if (q <= p || boxDistance(box, boxes[q]) >= least - SAME_MM) continue;
      least = Math.min(least, webBetween(regions, p, q, least)?.distanceMm ?? Infinity);
    }
  });
  return least < limitMm ? least : undefined;
}

/** First search radius; doubled until the nearest neighbour is found. */
const FIRST_RADIUS_MM = 0.5;

/**
 * The nearest neighbour of every opening, by the exact distance of their walls.
 *
 * @returns one web per opening, seen from it (`p` is the opening itself); undefined for a lone opening
 */
export function nearestWebs(regions: readonly Region[]): (Web | undefined)[] {
  const boxes = regions.map(regionBounds);
  const index = boxIndex(boxes);
  const best: (Web | undefined)[] = regions.map(() => undefined);
  const reach = (i: number): number => best[i]?.distanceMm ?? Infinity;
  if (regions.length < 2) return best;
  const widest =
    largest(boxes.map((b) => Math.max(Math.abs(b.maxX), Math.abs(b.minX), Math.abs(b.maxY), Math.abs(b.minY)))) * 4;
  boxes.forEach((box, p) => {
    const walls = wallsOf(regions[p]);
    for (let radius = FIRST_RADIUS_MM; ; radius *= 2) {
      const near = index.near(box, Math.min(radius, reach(p))).filter((q) => q !== p);
      // Nearest boxes first: later ones are mostly ruled out by their boxes alone.
      near.sort((a, b) => boxDistance(boxes[a], box) - boxDistance(boxes[b], box));
      for (const q of near) {
        if (boxDistance(boxes[q], box) > reach(p)) break;
        const web = webBetween(regions, p, q, reach(p), walls);
        if (!web || web.distanceMm >= reach(p)) continue;
        best[p] = web;
        if (web.distanceMm < reach(q)) best[q] = { ...web, p: q, q: p, from: web.to, to: web.from };
      }
      if (reach(p) <= radius || radius > widest) break;
    }
  });
  return best;
}

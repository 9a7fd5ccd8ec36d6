import { largest, regionBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { copyAt, copyOf } from '../geometry/copies.js';
import type { Point, Region } from '../geometry/types.js';
import { type Nearest, webBetween } from '../geometry/walls.js';
import { numbering } from '../kept.js';

/** The film between two openings. */
export interface Web extends Nearest {
  /** Positions in the list of openings, counting from 0; `from` lies on p, `to` on q. */
  readonly p: number;
  readonly q: number;
}

/** Copies that lie to each other alike to this, mm, have the same web between them. */
const SAME_PLACE_MM = 1e-7;
/** So many webs are kept: boards have few pitches, and where copies lie as they like, keeping is of no use. */
const MOST_KEPT = 20_000;

/** Finds the web between two openings; the one between two shapes is worked out once for all copies that lie alike. */
function webFinder(regions: readonly Region[]): (p: number, q: number, limitMm: number) => Web | undefined {
  const known = new Map<string, Nearest>();
  const numberOf = numbering<Region>();
  const between = (p: Region, q: Region, limitMm: number): Nearest | undefined => {
    const [one, other] = [copyOf(p), copyOf(q)];
    if (!one || !other) return webBetween(p, q, limitMm);
    const [dx, dy] = [other.dx - one.dx, other.dy - one.dy];
    const key = [
      numberOf(one.shape),
      numberOf(other.shape),
      Math.round(dx / SAME_PLACE_MM),
      Math.round(dy / SAME_PLACE_MM),
    ].join();
    const web = known.get(key) ?? webBetween(one.shape, copyAt(other.shape, dx, dy), Infinity);
    if (!web) return undefined;
    if (known.size < MOST_KEPT) known.set(key, web);
    if (web.distanceMm > limitMm) return undefined;
    const moved = ([x, y]: Point): Point => [x + one.dx, y + one.dy];
    return { distanceMm: web.distanceMm, from: moved(web.from), to: moved(web.to) };
  };
  return (p, q, limitMm) => {
    const web = between(regions[p], regions[q], limitMm);
    return web && { ...web, p, q };
  };
}

/** All webs narrower than a limit, each pair once, ascending by p, then q. */
export function websBelow(regions: readonly Region[], limitMm: number): Web[] {
  const between = webFinder(regions);
  const webs: Web[] = [];
  boxIndex(regions, regionBounds).eachPair((p, q) => {
    const web = between(p, q, limitMm);
    if (web && web.distanceMm < limitMm) webs.push(web);
  }, limitMm);
  return webs;
}

/** Webs that differ by less are alike, mm: most of a row's are, but for rounding. */
const SAME_MM = 1e-9;

/**
 * The narrowest web between any two of some openings, mm: mostly what is nearest to one of them.
 *
 * @param members - positions in the list of openings
 * @param nearest - of every opening, as {@link nearestWebs} finds them
 */
export function narrowestWithin(
  members: readonly number[],
  openings: readonly Region[],
  nearest: readonly (Web | undefined)[],
  limitMm: number,
): number | undefined {
  const own = new Set(members);
  let [least, beyond] = [limitMm, Infinity];
  for (const i of members) {
    const web = nearest[i];
    if (!web) continue;
    if (own.has(web.q)) least = Math.min(least, web.distanceMm);
    else beyond = Math.min(beyond, web.distanceMm);
  }
  if (beyond < least) {
    const regions = members.map((i) => openings[i]);
    const [index, between] = [boxIndex(regions, regionBounds), webFinder(regions)];
    regions.forEach((_, p) => {
      for (const q of index.nearTo(p, least)) {
        if (q > p && index.distance(p, q) < least - SAME_MM)
          least = Math.min(least, between(p, q, least)?.distanceMm ?? Infinity);
      }
    });
  }
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
  const index = boxIndex(regions, regionBounds);
  const between = webFinder(regions);
  const best: (Web | undefined)[] = regions.map(() => undefined);
  const reach = (i: number): number => best[i]?.distanceMm ?? Infinity;
  if (regions.length < 2) return best;
  const widest =
    4 *
    largest(
      regions.map((region) => {
        const { minX, minY, maxX, maxY } = regionBounds(region);
        return Math.max(Math.abs(maxX), Math.abs(minX), Math.abs(maxY), Math.abs(minY));
      }),
    );
  regions.forEach((_, p) => {
    for (let radius = FIRST_RADIUS_MM; ; radius *= 2) {
      const near = index.nearTo(p, Math.min(radius, reach(p)));
      // Nearest boxes first: later ones are mostly ruled out by their boxes alone.
      near.sort((a, b) => index.distance(p, a) - index.distance(p, b));
      for (const q of near) {
        if (reach(p) === 0 || index.distance(p, q) > reach(p)) break;
        const web = between(p, q, reach(p));
        if (!web || web.distanceMm >= reach(p)) continue;
        best[p] = web;
        if (web.distanceMm < reach(q)) best[q] = { ...web, p: q, q: p, from: web.to, to: web.from };
      }
      if (reach(p) <= radius || radius > widest) break;
    }
  });
  return best;
}

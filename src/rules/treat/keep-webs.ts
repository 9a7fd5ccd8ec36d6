import { openingArea, openingCentroid } from '../../geometry/area.js';
import { subtractRegions } from '../../geometry/boolean.js';
import { reachAlong } from '../../geometry/bounds.js';
import { NO_AREA_MM2 } from '../../geometry/clean.js';
import { cutConvex, isConvex } from '../../geometry/convex.js';
import { offsetByEllipse } from '../../geometry/offset.js';
import type { Point, Region } from '../../geometry/types.js';
import { distance } from '../../geometry/walls.js';
import { listIn } from '../../kept.js';
import { measureRegion } from '../measure.js';
import { type Web, websBelow } from '../webs.js';
import { type ActionOf, type Proposals, type Snapshot, webToLeave } from './piece.js';

const PASSES = 8;
/** A web is called wide enough when it lacks less than this, mm: arcs are polygons. */
const SLACK_MM = 1e-4;
/** Trimming stops before less than this share of the narrowest width is left, unless the laser's own limit is known. */
const LEAST_WIDTH_SHARE = 0.5;

/** One side of a trim: keep { p : p . n <= limit }. */
interface Cut {
  readonly n: Point;
  readonly limit: number;
}

/**
 * Trims the two sides of every thin web evenly until it stands. Straight cuts square to the shortest way across;
 * `both-sides` trims the far side of an opening as well, so that its centre stays. Protected openings are not touched:
 * their neighbours give way alone. What can't be trimmed without getting too narrow stays, and is told.
 */
export function keepWebs(selected: readonly number[], action: ActionOf<'keep-webs'>, snapshot: Snapshot): Proposals {
  const wanted = new Set(selected);
  const web = webToLeave(action.webMm, snapshot.film);
  const bothSides = action.trim !== 'facing-side';
  const regions: Region[] = snapshot.pieces.map(({ opening }) => opening);
  const stuck = new Set<number>();
  const mayTrim = (i: number): boolean => wanted.has(i) && !stuck.has(i);
  const floor = (i: number): number =>
    snapshot.film.minOpeningMm ?? LEAST_WIDTH_SHARE * snapshot.measures[i].narrowestMm;
  const replace = (i: number, next: Region | undefined): boolean => {
    if (next && next.outer.length >= 3 && measureRegion(next).narrowestMm >= floor(i) - 1e-6) {
      regions[i] = next;
      return true;
    }
    stuck.add(i);
    return false;
  };
  for (let pass = 0; pass < PASSES; pass += 1) {
    const thin = websBelow(regions, web - SLACK_MM).filter(({ p, q }) => mayTrim(p) || mayTrim(q));
    if (thin.length === 0) break;
    const cuts = new Map<number, Cut[]>();
    for (const one of thin) {
      const line = cutLine(one, regions, web, mayTrim(one.p), mayTrim(one.q));
      if (!line) {
        carve(one, regions, web, mayTrim, replace);
        continue;
      }
      if (mayTrim(one.p)) listIn(cuts, one.p).push(line.p);
      if (mayTrim(one.q)) listIn(cuts, one.q).push(line.q);
    }
    for (const [i, list] of cuts) {
      const all = bothSides ? list.flatMap((cut) => [cut, mirrored(cut, regions[i])]) : list;
      const ring = all.reduce((outer, { n, limit }) => cutConvex(outer, n, limit), regions[i].outer);
      replace(i, { ...regions[i], outer: ring });
    }
  }
  const proposals: Proposals = new Map();
  regions.forEach((region, i) => {
    if (region === snapshot.pieces[i].opening) return;
    const off = distance(openingCentroid(region), openingCentroid(snapshot.pieces[i].opening));
    const note = off > 1e-3 ? `its centre moved by ${off.toFixed(3)} mm` : undefined;
    proposals.set(i, { regions: [region], note });
  });
  for (const { p, q, distanceMm } of websBelow(regions, web - SLACK_MM)) {
    for (const i of [p, q]) {
      if (wanted.has(i) && !proposals.has(i)) {
        proposals.set(i, {
          stays: `the web of ${distanceMm.toFixed(3)} mm stays: trimming would make it narrower than ${floor(i).toFixed(3)} mm`,
        });
      }
    }
  }
  return proposals;
}

const isPlain = (region: Region): boolean => region.islands.length === 0 && isConvex(region.outer);

/** Straight cuts on both sides of a web; undefined when an opening's shape forbids them. */
function cutLine(
  web: Web,
  regions: readonly Region[],
  wantedMm: number,
  trimP: boolean,
  trimQ: boolean,
): { p: Cut; q: Cut } | undefined {
  const { p, q, distanceMm, from, to } = web;
  if (!isPlain(regions[p]) || !isPlain(regions[q])) return undefined;
  let n: Point = [(to[0] - from[0]) / distanceMm, (to[1] - from[1]) / distanceMm];
  if (distanceMm < 1e-6) {
    const [a, b] = [openingCentroid(regions[p]), openingCentroid(regions[q])];
    const gap = distance(a, b);
    if (gap < 1e-6) return undefined;
    n = [(b[0] - a[0]) / gap, (b[1] - a[1]) / gap];
  }
  const [, reachP] = reachAlong(regions[p].outer, n);
  const [reachQ] = reachAlong(regions[q].outer, n);
  // The nearest points may lie inside the outermost ones where openings overlap.
  const need = wantedMm - (reachQ - reachP);
  const partP = trimP && trimQ ? need / 2 : trimP ? need : 0;
  return {
    p: { n, limit: reachP - partP },
    q: { n: [-n[0], -n[1]], limit: -(reachQ + (need - partP)) },
  };
}

/** The same cut on the far side of the opening. */
function mirrored({ n, limit }: Cut, region: Region): Cut {
  const [least, most] = reachAlong(region.outer, n);
  return { n: [-n[0], -n[1]], limit: -(least + most - limit) };
}

/** Bent openings: each side gives way along the other's outline. */
function carve(
  web: Web,
  regions: Region[],
  wantedMm: number,
  mayTrim: (i: number) => boolean,
  replace: (i: number, next: Region | undefined) => boolean,
): void {
  const { p, q } = web;
  const half = mayTrim(p) && mayTrim(q) ? (wantedMm + web.distanceMm) / 2 : wantedMm;
  const keepClear = (i: number, other: number, clearMm: number): void => {
    if (openingArea(regions[other]) < NO_AREA_MM2) return;
    const around = offsetByEllipse(regions[other], 2 * clearMm, 2 * clearMm, 1);
    const left = subtractRegions([regions[i]], around);
    replace(i, left.length === 1 ? left[0] : undefined);
  };
  if (mayTrim(p)) keepClear(p, q, mayTrim(q) ? half : wantedMm);
  if (mayTrim(q)) keepClear(q, p, wantedMm);
}

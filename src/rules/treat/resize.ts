import { openingArea } from '../../geometry/area.js';
import { intersectRegions } from '../../geometry/boolean.js';
import { regionBounds, ringBounds } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { copyAt } from '../../geometry/copies.js';
import { moveWalls, roundCorners, shrinkToShare, stretch, wallsToArea } from '../../geometry/reshape.js';
import { ShapeCache } from '../../geometry/shape-cache.js';
import type { Point, Region } from '../../geometry/types.js';
import { nearestBetween, wallsOf } from '../../geometry/walls.js';
import { kept } from '../../kept.js';
import { SAME_SHAPE_MM } from '../measure.js';
import { numberFor, type Proposal, type Proposals, type Snapshot, webToLeave } from './piece.js';
import type { Action, RuleNumber } from './rule-types.js';

type Of<K extends Action['kind']> = Extract<Action, { kind: K }>;

const NO_VALUE = 'a name in the rule’s formula has no value for it';

/** One connected region, or the reason why not. */
export function onePiece(regions: readonly Region[], what: string): Proposal {
  if (regions.length === 1) return { regions };
  return { stays: regions.length === 0 ? `${what} would leave nothing of it` : `${what} would break it into pieces` };
}

/** Takes film back from every side, or a share of the area. */
export function shrinkSides(selected: readonly number[], action: Of<'shrink'>, snapshot: Snapshot): Proposals {
  const moveIn = byShape((region, mm) => moveWalls(region, -mm));
  const scaleDown = byShape(shrinkToShare);
  return new Map(
    selected.map((i): [number, Proposal] => {
      const value = numberFor(action.perSideMm ?? (action.areaPercent as RuleNumber), () => snapshot.scope(i));
      if (value === undefined) return [i, { stays: NO_VALUE }];
      const { opening } = snapshot.pieces[i];
      if (action.perSideMm !== undefined)
        return [i, onePiece(moveIn(opening, value), `taking ${value} mm off each side`)];
      if (value >= 100) return [i, { stays: `taking ${value} % away would leave nothing of it` }];
      return [i, onePiece(scaleDown(opening, 1 - value / 100), `taking ${value} % away`)];
    }),
  );
}

/** Moves walls outwards as far as the webs allow. */
export function grow(selected: readonly number[], action: Of<'grow'>, snapshot: Snapshot): Proposals {
  const wishes = new Map<number, number>();
  const proposals: Proposals = new Map();
  const delta = foundByShape(deltaToShare);
  for (const i of selected) {
    const value = numberFor(action.perSideMm ?? (action.areaPercent as RuleNumber), () => snapshot.scope(i));
    if (value === undefined) proposals.set(i, { stays: NO_VALUE });
    else if (action.perSideMm !== undefined) wishes.set(i, value);
    else wishes.set(i, delta(snapshot.pieces[i].opening, 1 + value / 100).result);
  }
  growWithin(wishes, leaveWeb(action.leaveWebMm, snapshot), snapshot, proposals);
  return proposals;
}

function leaveWeb(value: RuleNumber | undefined, snapshot: Snapshot): number {
  return (value === undefined ? undefined : numberFor(value, () => snapshot.film)) ?? webToLeave(snapshot.film);
}

/** How far the walls must move outwards for a share (> 1) of the area. */
function deltaToShare(region: Region, share: number): number {
  const { minX, minY, maxX, maxY } = ringBounds(region.outer);
  return wallsToArea([region], openingArea(region) * share, 1, (maxX - minX + maxY - minY) * share);
}

/** Area so that area x film thickness is what the design's foil would carry. */
export function matchVolume(selected: readonly number[], action: Of<'match-volume'>, snapshot: Snapshot): Proposals {
  const { film } = snapshot;
  const proposals: Proposals = new Map();
  const wishes = new Map<number, number>();
  const delta = foundByShape(deltaToShare);
  const scaleDown = byShape(shrinkToShare);
  for (const i of selected) {
    const design =
      action.designThicknessMm === undefined
        ? film.designThicknessMm
        : numberFor(action.designThicknessMm, () => snapshot.scope(i));
    if (design === undefined) {
      proposals.set(i, { stays: 'the rule set does not say for which foil thickness the pads were designed' });
      continue;
    }
    const share = design / film.thicknessMm;
    if (share < 1 - 1e-9) {
      proposals.set(i, onePiece(scaleDown(snapshot.pieces[i].opening, share), 'keeping the volume'));
    } else if (share > 1 + 1e-9) {
      if (action.allowGrowth) wishes.set(i, delta(snapshot.pieces[i].opening, share).result);
      else
        proposals.set(i, {
          stays: `its volume stays at ${(100 / share).toFixed(0)} % of the design: growing beyond the pad is not allowed`,
        });
    }
  }
  growWithin(wishes, leaveWeb(action.leaveWebMm, snapshot), snapshot, proposals);
  return proposals;
}

/** Rounds outstanding corners, by no more than the width allows. */
export function round(selected: readonly number[], action: Of<'round-corners'>, snapshot: Snapshot): Proposals {
  const rounded = byShape(roundCorners);
  return new Map(
    selected.map((i): [number, Proposal] => {
      const radius = numberFor(action.radiusMm, () => snapshot.scope(i));
      if (radius === undefined || radius <= 0) return [i, { stays: NO_VALUE }];
      const { opening } = snapshot.pieces[i];
      const most = 0.49 * snapshot.measures[i].narrowestMm;
      for (let r = Math.min(radius, most); r > 0.2 * most || r === radius; r *= 0.8) {
        const regions = rounded(opening, r);
        if (regions.length !== 1) continue;
        return [i, r === radius ? { regions } : { regions, note: `radius limited to ${r.toFixed(3)} mm by its width` }];
      }
      return [i, { stays: 'rounding would break it into pieces' }];
    }),
  );
}

/** Widens what is narrower than the laser opens: the short extents of simple shapes, all walls of odd ones. */
export function widen(selected: readonly number[], action: Of<'widen'>, snapshot: Snapshot): Proposals {
  const proposals: Proposals = new Map();
  const wishes = new Map<number, Region>();
  for (const i of selected) {
    const to = action.toMm === undefined ? snapshot.film.minOpeningMm : numberFor(action.toMm, () => snapshot.scope(i));
    const measure = snapshot.measures[i];
    if (to !== undefined && measure.narrowestMm < to - 1e-6)
      wishes.set(i, widened(snapshot.pieces[i].opening, i, to, snapshot));
  }
  growWithin(wishes, leaveWeb(action.leaveWebMm, snapshot), snapshot, proposals, 'all-or-nothing');
  return proposals;
}

function widened(opening: Region, i: number, toMm: number, snapshot: Snapshot): Region {
  const { shape, widthMm, heightMm, angleDeg, centre, narrowestMm } = snapshot.measures[i];
  if (shape === 'odd' || shape === 'ring') return moveWalls(opening, (toMm - narrowestMm) / 2)[0] ?? opening;
  return stretch(opening, centre, angleDeg, Math.max(1, toMm / widthMm), Math.max(1, toMm / heightMm));
}

/** What a piece wants to become: walls moved by so many mm, or a shape of its own. */
type Wish = number | Region;

const ROUNDS = 12;
const SLACK_MM = 2e-6;

/**
 * Grows pieces as far as the webs allow: a web that would fall below `leaveWebMm` (or below what it was, if it was thinner
 * already) holds both of its sides back, so the order of the openings does not matter.
 *
 * @param wishes - per piece the wall movement or the shape it wants
 * @param mode - `as-far`: as much of a movement as fits; `all-or-nothing`: the wish or no change
 * @param proposals - gets an entry for every wish
 */
function growWithin(
  wishes: ReadonlyMap<number, Wish>,
  leaveWebMm: number,
  snapshot: Snapshot,
  proposals: Proposals,
  mode: 'as-far' | 'all-or-nothing' = 'as-far',
): void {
  const share = new Map<number, number>([...wishes.keys()].map((i) => [i, 1]));
  const now = new Map<number, Region>();
  const moveOut = byShape(moveWalls);
  const shape = (i: number): Region => {
    const wish = wishes.get(i) as Wish;
    const part = share.get(i) as number;
    const { opening } = snapshot.pieces[i];
    if (part === 0) return opening;
    if (typeof wish !== 'number') return wish;
    const grown = moveOut(opening, wish * part);
    return grown.length === 1 && grown[0].islands.length === opening.islands.length ? grown[0] : opening;
  };
  for (const i of wishes.keys()) now.set(i, shape(i));
  let dirty = new Set(wishes.keys());
  for (let round = 0; round < ROUNDS && dirty.size > 0; round += 1) {
    const held = tooNear(dirty, now, leaveWebMm, snapshot);
    for (const i of held) {
      const part = share.get(i) as number;
      share.set(
        i,
        mode === 'all-or-nothing' || round >= ROUNDS - 2 ? 0 : nextShare(i, part, leaveWebMm, wishes, snapshot),
      );
      now.set(i, shape(i));
    }
    dirty = held;
  }
  for (const [i, wish] of wishes) {
    const part = share.get(i) as number;
    const region = now.get(i) as Region;
    if (part === 0 || region === snapshot.pieces[i].opening) {
      proposals.set(i, { stays: `a web of ${leaveWebMm.toFixed(3)} mm would not be left` });
    } else if (part < 1 && typeof wish === 'number') {
      proposals.set(i, {
        regions: [region],
        note: `grown by ${(100 * part).toFixed(0)} % of the wish: the web holds it back`,
      });
    } else {
      proposals.set(i, { regions: [region] });
    }
  }
}

/** Half of what the nearest web has to spare; halved again when a corner still comes too near. */
function nextShare(
  i: number,
  part: number,
  leaveWebMm: number,
  wishes: ReadonlyMap<number, Wish>,
  snapshot: Snapshot,
): number {
  const wish = wishes.get(i);
  const spare = ((snapshot.webMm(i) ?? Infinity) - leaveWebMm) / 2;
  if (typeof wish !== 'number' || spare <= 0) return 0;
  const fits = spare / wish;
  return part > fits ? fits : part / 2;
}

/** Which wishers stand too near to a neighbour now. */
function tooNear(
  dirty: ReadonlySet<number>,
  now: ReadonlyMap<number, Region>,
  leaveWebMm: number,
  snapshot: Snapshot,
): Set<number> {
  const regions = snapshot.pieces.map(({ opening }, i) => now.get(i) ?? opening);
  const index = boxIndex(regions, regionBounds);
  const held = new Set<number>();
  for (const i of dirty) {
    for (const j of index.nearTo(i, leaveWebMm)) {
      const web = nearestBetween(wallsOf(regions[i]), wallsOf(regions[j]), leaveWebMm);
      if (!web || web.distanceMm >= leaveWebMm - SLACK_MM) continue;
      const before = nearestBetween(wallsOf(snapshot.pieces[i].opening), wallsOf(snapshot.pieces[j].opening));
      if (before && web.distanceMm >= Math.min(before.distanceMm, leaveWebMm) - SLACK_MM) continue;
      held.add(i);
      if (now.has(j)) held.add(j);
    }
  }
  return held;
}

/**
 * Does the same work on equal shapes once: a board has thousands of openings of a few dozen shapes.
 *
 * @param work - must depend on the region's shape and the number alone, not on its place
 */
export function byShape(
  work: (region: Region, value: number) => Region[],
): (region: Region, value: number) => Region[] {
  const found = foundByShape(work);
  return (region, value) => {
    const { result, at } = found(region, value);
    return result.map((piece) => copyAt(piece, ...at));
  };
}

function foundByShape<R>(work: (region: Region, value: number) => R) {
  const caches = new Map<number, ShapeCache<R>>();
  return (region: Region, value: number) =>
    kept(caches, value, () => new ShapeCache((one) => work(one, value), SAME_SHAPE_MM)).get(region);
}

const END_STEPS = 24;

/** Gives elongated openings semicircular ends. */
export function roundEnds(selected: readonly number[], snapshot: Snapshot): Proposals {
  return new Map(
    selected.map((i): [number, Proposal] => {
      const { widthMm, heightMm, angleDeg, centre, shape } = snapshot.measures[i];
      if (shape === 'round' || shape === 'obround') return [i, { stays: 'its ends are round already' }];
      const angle = ((widthMm >= heightMm ? angleDeg : angleDeg + 90) * Math.PI) / 180;
      const radius = Math.min(widthMm, heightMm) / 2;
      const straight = Math.max(widthMm, heightMm) / 2 - radius;
      const points: Point[] = [];
      for (const [end, turn] of [
        [1, -Math.PI / 2],
        [-1, Math.PI / 2],
      ]) {
        for (let k = 0; k <= END_STEPS; k += 1) {
          const a = turn + (Math.PI * k) / END_STEPS;
          const u = end * straight + radius * Math.cos(a);
          const v = radius * Math.sin(a);
          points.push([
            centre[0] + u * Math.cos(angle) - v * Math.sin(angle),
            centre[1] + u * Math.sin(angle) + v * Math.cos(angle),
          ]);
        }
      }
      const cut = intersectRegions([snapshot.pieces[i].opening], [{ outer: points, islands: [] }]);
      return [i, onePiece(cut, 'rounding its ends')];
    }),
  );
}

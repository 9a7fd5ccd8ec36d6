import { openingArea } from '../../geometry/area.js';
import { intersectRegions } from '../../geometry/boolean.js';
import { regionBounds, ringBounds } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { copyAt } from '../../geometry/copies.js';
import { moveWalls, roundCorners, shrinkToShare, stretch, wallsToArea } from '../../geometry/reshape.js';
import { ShapeCache } from '../../geometry/shape-cache.js';
import { solid } from '../../geometry/shapes.js';
import type { Point, Region } from '../../geometry/types.js';
import { nearestBetween, wallsOf } from '../../geometry/walls.js';
import { kept } from '../../kept.js';
import { type Measure, SAME_SHAPE_MM } from '../measure.js';
import {
  type ActionOf,
  numberFor,
  type PieceAct,
  type Proposal,
  type Proposals,
  type Snapshot,
  type Wish,
  webToLeave,
} from './piece.js';
import type { Action, RuleNumber } from './rule-types.js';

const NO_VALUE = { stays: 'a name in the rule’s formula has no value for it' } as const;

/** One connected region, or the reason why not. */
export function onePiece(regions: readonly Region[], what: string): Proposal {
  if (regions.length === 1) return { regions };
  return { stays: regions.length === 0 ? `${what} would leave nothing of it` : `${what} would break it into pieces` };
}

/** Takes film back from every side, or a share of the area. */
export const shrinkSides: PieceAct<'shrink'> = ({ perSideMm, areaPercent }, { pieces }) => {
  const moveIn = byShape((region, mm) => moveWalls(region, -mm));
  const scaleDown = byShape(shrinkToShare);
  return (i, numberOf) => {
    const value = numberOf(perSideMm ?? areaPercent);
    const { opening } = pieces[i];
    if (value === undefined) return NO_VALUE;
    if (perSideMm !== undefined) return onePiece(moveIn(opening, value), `taking ${value} mm off each side`);
    if (value >= 100) return { stays: `taking ${value} % away would leave nothing of it` };
    return onePiece(scaleDown(opening, 1 - value / 100), `taking ${value} % away`);
  };
};

/** Moves walls outwards as far as the webs allow. */
export const grow: PieceAct<'grow'> = ({ perSideMm, areaPercent }, { pieces }) => {
  const delta = foundByShape(deltaToShare);
  return (i, numberOf) => {
    const value = numberOf(perSideMm ?? areaPercent);
    if (value === undefined) return NO_VALUE;
    return { grows: perSideMm === undefined ? delta(pieces[i].opening, 1 + value / 100).result : value };
  };
};

/** How far the walls must move outwards for a share (> 1) of the area. */
function deltaToShare(region: Region, share: number): number {
  const { minX, minY, maxX, maxY } = ringBounds(region.outer);
  return wallsToArea([region], openingArea(region) * share, 1, (maxX - minX + maxY - minY) * share);
}

/** Area so that area x film thickness is what the design's foil would carry. */
export const matchVolume: PieceAct<'match-volume'> = ({ designThicknessMm, allowGrowth }, { pieces, film }) => {
  const delta = foundByShape(deltaToShare);
  const scaleDown = byShape(shrinkToShare);
  return (i, numberOf) => {
    const design = designThicknessMm === undefined ? film.designThicknessMm : numberOf(designThicknessMm);
    if (design === undefined)
      return { stays: 'the rule set does not say for which foil thickness the pads were designed' };
    const share = design / film.thicknessMm;
    if (share < 1 - 1e-9) return onePiece(scaleDown(pieces[i].opening, share), 'keeping the volume');
    if (share <= 1 + 1e-9) return undefined;
    if (allowGrowth) return { grows: delta(pieces[i].opening, share).result };
    const percent = (100 / share).toFixed(0);
    return { stays: `its volume stays at ${percent} % of the design: growing beyond the pad is not allowed` };
  };
};

/** Rounds outstanding corners, by no more than the width allows. */
export const round: PieceAct<'round-corners'> = ({ radiusMm }, { pieces, measures }) => {
  const rounded = byShape(roundCorners);
  return (i, numberOf) => {
    const radius = numberOf(radiusMm);
    if (radius === undefined || radius <= 0) return NO_VALUE;
    const most = 0.49 * measures[i].narrowestMm;
    for (let r = Math.min(radius, most); r > 0.2 * most || r === radius; r *= 0.8) {
      const regions = rounded(pieces[i].opening, r);
      if (regions.length !== 1) continue;
      return r === radius ? { regions } : { regions, note: `radius limited to ${r.toFixed(3)} mm by its width` };
    }
    return { stays: 'rounding would break it into pieces' };
  };
};

/** Widens what is narrower than the laser opens: the short extents of simple shapes, all walls of odd ones. */
export const widen: PieceAct<'widen'> = ({ toMm }, { pieces, film, measures }) => {
  return (i, numberOf) => {
    const to = toMm === undefined ? film.minOpeningMm : numberOf(toMm);
    if (to === undefined || measures[i].narrowestMm >= to - 1e-6) return undefined;
    return { grows: widened(pieces[i].opening, to, measures[i]) };
  };
};

function widened(opening: Region, toMm: number, measure: Measure): Region {
  const { shape, widthMm, heightMm, angleDeg, centre, narrowestMm } = measure;
  if (shape === 'odd' || shape === 'ring') return moveWalls(opening, (toMm - narrowestMm) / 2)[0] ?? opening;
  return stretch(opening, centre, angleDeg, Math.max(1, toMm / widthMm), Math.max(1, toMm / heightMm));
}

const END_STEPS = 24;

/** Gives elongated openings semicircular ends. */
export const roundEnds: PieceAct<'round-ends'> = (_, { pieces, measures }) => {
  return (i) => {
    const { widthMm, heightMm, angleDeg, centre, shape } = measures[i];
    if (shape === 'round' || shape === 'obround') return { stays: 'its ends are round already' };
    const angle = ((widthMm >= heightMm ? angleDeg : angleDeg + 90) * Math.PI) / 180;
    const radius = Math.min(widthMm, heightMm) / 2;
    const straight = Math.max(widthMm, heightMm) / 2 - radius;
    const outer = [1, -1].flatMap((end) =>
      Array.from({ length: END_STEPS + 1 }, (_, k): Point => {
        const a = (-end * Math.PI) / 2 + (Math.PI * k) / END_STEPS;
        const [u, v] = [end * straight + radius * Math.cos(a), radius * Math.sin(a)];
        return [
          centre[0] + u * Math.cos(angle) - v * Math.sin(angle),
          centre[1] + u * Math.sin(angle) + v * Math.cos(angle),
        ];
      }),
    );
    return onePiece(intersectRegions([pieces[i].opening], [solid(outer)]), 'rounding its ends');
  };
};

/**
 * Lets an action act on one piece after the other. Those that want to grow do so together, as far as the webs allow.
 *
 * @returns as all actions are called
 */
export function onEach<K extends Action['kind']>(act: PieceAct<K>) {
  return (selected: readonly number[], action: ActionOf<K>, snapshot: Snapshot): Proposals => {
    const actOn = act(action, snapshot);
    const wishes = new Map<number, Wish>();
    const proposals: Proposals = new Map();
    for (const i of selected) {
      const wanted = actOn(i, (value) => numberFor(value, () => snapshot.scope(i)));
      if (wanted && 'grows' in wanted) wishes.set(i, wanted.grows);
      else if (wanted) proposals.set(i, wanted);
    }
    const { leaveWebMm } = action as { readonly leaveWebMm?: RuleNumber };
    if (wishes.size > 0) growWithin(wishes, webToLeave(leaveWebMm, snapshot.film), snapshot, proposals);
    return proposals;
  };
}

const ROUNDS = 12;
const SLACK_MM = 2e-6;

/**
 * Grows pieces as far as the webs allow: a web that would fall below `leaveWebMm` (or below what it was, if it was thinner
 * already) holds both of its sides back, so the order of the openings does not matter.
 *
 * @param wishes - per piece the wall movement, of which as much is done as fits, or the shape it wants, or nothing
 * @param proposals - gets an entry for every wish
 */
function growWithin(
  wishes: ReadonlyMap<number, Wish>,
  leaveWebMm: number,
  snapshot: Snapshot,
  proposals: Proposals,
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
      share.set(i, round >= ROUNDS - 2 ? 0 : nextShare(i, part, leaveWebMm, wishes, snapshot));
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

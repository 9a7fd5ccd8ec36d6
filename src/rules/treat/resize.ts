import { openingArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import { moveWalls, roundCorners, shrinkToShare, stretch, wallsToArea } from '../../geometry/reshape.js';
import type { Region } from '../../geometry/types.js';
import { byShape, numberByShape } from './by-shape.js';
import { growWithin } from './grow-within.js';
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
  const delta = numberByShape(deltaToShare);
  for (const i of selected) {
    const value = numberFor(action.perSideMm ?? (action.areaPercent as RuleNumber), () => snapshot.scope(i));
    if (value === undefined) proposals.set(i, { stays: NO_VALUE });
    else if (action.perSideMm !== undefined) wishes.set(i, value);
    else wishes.set(i, delta(snapshot.pieces[i].opening, 1 + value / 100));
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
  const delta = numberByShape(deltaToShare);
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
      if (action.allowGrowth) wishes.set(i, delta(snapshot.pieces[i].opening, share));
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

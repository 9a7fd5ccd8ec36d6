import { regionBounds } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { moveWalls } from '../../geometry/reshape.js';
import type { Region } from '../../geometry/types.js';
import { nearestBetween, wallsOf } from '../../geometry/walls.js';
import { byShape } from './by-shape.js';
import type { Proposals, Snapshot } from './piece.js';

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
export function growWithin(
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

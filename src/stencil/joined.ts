import type { PixelShape } from '../dots/shape.js';
import { boxOfDots, type PlacedStamp, type Stamp } from '../dots/stamp.js';
import { boxIndex } from '../geometry/box-index.js';
import type { Box, Opening } from '../geometry/types.js';
import { nearestBetween, wallsOf } from '../geometry/walls.js';
import { listIn } from '../kept.js';
import { type Bands, bandsOfDots, bandsOfWalls, grown, overlap } from './bands.js';
import type { Lattice } from './lattice.js';

/** Openings nearer than this touch in the artwork, mm: rounding noise of its coordinates. */
const TOUCH_MM = 1e-6;

/**
 * Openings that run together although there is film between them in the artwork.
 *
 * @param pieces - for each asked opening, the positions of its corrected pieces
 * @param placed - their dots; not given for paths
 * @returns for the number of an opening, those of the others
 */
export function joinedPairs(
  asked: readonly Opening[],
  pieces: readonly (readonly number[])[],
  shapes: readonly PixelShape[],
  placed: readonly PlacedStamp[] | undefined,
  lattice: Lattice,
): ReadonlyMap<number, readonly number[]> {
  const found = new Map<number, number[]>();
  const beam = placed ? lattice.burning.beam : lattice.beam;
  const [all, openings]: [number[], number[]] = [[], []];
  pieces.forEach((own, opening) => {
    for (const k of own) openings[all.push(k) - 1] = opening;
  });
  const grow = burntBox(beam);
  const meet = meeting(shapes, placed, beam);
  boxIndex(all, (k) => grow(placed ? boxOfDots(placed[k]) : shapes[k])).eachPair((i, j) => {
    const [one, other] = [openings[i], openings[j]];
    if (other === one || found.get(one + 1)?.includes(other + 1) || !meet(all[i], all[j])) return;
    const [p, q] = [wallsOf(asked[one]), wallsOf(asked[other])];
    if (nearestBetween(p, q, TOUCH_MM)) return;
    listIn(found, one + 1).push(other + 1);
    listIn(found, other + 1).push(one + 1);
  });
  return found;
}

function burntBox({ halfWidth, halfHeight, lean }: Lattice['beam']): (box: Box) => Box {
  const across = Math.hypot(halfWidth, lean * halfHeight);
  return ({ minX, minY, maxX, maxY }) => ({
    minX: minX - across,
    minY: minY - halfHeight,
    maxX: maxX + across,
    maxY: maxY + halfHeight,
  });
}

/** Whether the beam joins two pieces; the same stamps, lying alike to each other, are looked at once. */
function meeting(
  shapes: readonly PixelShape[],
  placed: readonly PlacedStamp[] | undefined,
  beam: Lattice['beam'],
): (k: number, l: number) => boolean {
  if (!placed) {
    const burnt = (k: number): Bands => grown(bandsOfWalls(shapes[k].walls), beam);
    return (k, l) => overlap(burnt(k), burnt(l));
  }
  const cuts = new Map<Stamp, Bands>();
  const known = new Map<Stamp, Map<Stamp, Map<string, boolean>>>();
  const cutOf = (stamp: Stamp): Bands => {
    const cut = cuts.get(stamp) ?? grown(bandsOfDots([{ stamp, column: 0, row: 0 }]), beam);
    cuts.set(stamp, cut);
    return cut;
  };
  return (k, l) => {
    const [p, q] = [placed[k], placed[l]];
    const [dx, dy] = [q.column - p.column, q.row - p.row];
    const withP = known.get(p.stamp) ?? new Map<Stamp, Map<string, boolean>>();
    known.set(p.stamp, withP);
    const apart = withP.get(q.stamp) ?? new Map<string, boolean>();
    withP.set(q.stamp, apart);
    const key = `${dx} ${dy}`;
    let joined = apart.get(key);
    if (joined === undefined) {
      joined = overlap(cutOf(p.stamp), movedBands(cutOf(q.stamp), dx, dy));
      apart.set(key, joined);
    }
    return joined;
  };
}

const movedBands = ({ top, step, rows }: Bands, dx: number, dy: number): Bands => ({
  top: top + dy,
  step,
  rows: rows.map((row) => row.map((x) => x + dx)),
});

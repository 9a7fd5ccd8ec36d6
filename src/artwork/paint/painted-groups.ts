import { move } from '../../geometry/move.js';
import type { Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { paintGroup } from './paint.js';
import type { PlacedRegion } from './placed.js';
import { partsOfRegions } from './tags.js';

/** What a group becomes, and which of its objects each region is made of. */
export interface PaintedGroup {
  readonly regions: readonly Region[];
  /** Positions of objects, ascending, one list for each region. */
  readonly parts: readonly (readonly number[])[];
  /** Pieces that were too small to be kept. */
  readonly lost: readonly Region[];
}

/** Larger groups are seldom alike, and their description takes room. */
const MAX_MEMBERS = 512;
/** More kinds of groups are not remembered. */
const MAX_KINDS = 20_000;
/** Distances that differ by less are the same: above rounding noise, below the clipper's grid, mm. */
const SAME_MM = 1e-7;

/**
 * Paints groups of objects that meet. Groups made of the same shapes at the same distances, as on a panel or in a row
 * of painted lands, are painted once.
 */
export function groupPainter(
  items: readonly PlacedRegion[],
  opposites: ReadonlyMap<number, number[]>,
): (members: readonly number[]) => PaintedGroup {
  const known = new Map<string, PaintedGroup & { x: number; y: number }>();
  const shapes = new Map<Region, number>();
  const keyOf = (members: readonly number[]): string => {
    const { dx: x0, dy: y0 } = items[members[0]];
    let key = '';
    for (const i of members) {
      const { shape, dx, dy, dark } = items[i];
      const number = kept(shapes, shape, () => shapes.size);
      key += `${number}${dark ? '+' : '-'}${Math.round((dx - x0) / SAME_MM)},${Math.round((dy - y0) / SAME_MM)};`;
    }
    return key;
  };
  const paint = (members: readonly number[]): PaintedGroup => {
    const lost: Region[] = [];
    const regions = paintGroup(members, items, opposites, lost);
    return { regions, parts: partsOfRegions(regions, members, items), lost };
  };
  return (members) => {
    if (members.length > MAX_MEMBERS) return paint(members);
    const key = keyOf(members);
    const { dx, dy } = items[members[0]];
    const like = known.get(key);
    if (like) {
      const moved = (region: Region): Region => move(region, dx - like.x, dy - like.y);
      return {
        regions: like.regions.map(moved),
        lost: like.lost.map(moved),
        parts: like.parts.map((part) => part.map((k) => members[k])),
      };
    }
    const painted = paint(members);
    const place = new Map(members.map((i, k) => [i, k]));
    if (known.size < MAX_KINDS) {
      const parts = painted.parts.map((part) => part.map((i) => place.get(i) as number));
      known.set(key, { ...painted, parts, x: dx, y: dy });
    }
    return painted;
  };
}

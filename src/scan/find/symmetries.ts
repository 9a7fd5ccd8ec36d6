import { around, mapPoint } from '../../geometry/affine.js';
import { boxAround } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { ownDirection } from '../../geometry/oriented-box.js';
import type { Affine, Opening, Point } from '../../geometry/types.js';
import { distance, distanceToWalls, wallsOf } from '../../geometry/walls.js';
import type { Star } from './constellation.js';

/** A way to lay openings that looks the same: where each one then lies another one lay before, or itself. */
export interface Symmetry {
  readonly map: Affine;
  readonly mirrored: boolean;
  /** Index of the opening in whose place each one comes to lie. */
  readonly partner: readonly number[];
}

/**
 * All turns and mirrorings, other than none, after which openings look the same: every one of them leaves the mean of all
 * middles where it is, so that one opening far from it and where that goes tell the rest. Of what lies in the mean alone
 * only quarter turns are tried.
 *
 * @param roomMm - differences of place and of outline that do not count
 */
export function symmetriesOf(openings: readonly Opening[], stars: readonly Star[], roomMm: number): Symmetry[] {
  if (stars.length === 0) return [];
  const centre = [0, 1].map((k) => stars.reduce((sum, { at }) => sum + at[k], 0) / stars.length) as [number, number];
  const far = stars.map(({ at }) => distance(at, centre));
  const first = far.reduce((best, value, i) => (value > far[best] ? i : best), 0);
  const index = boxIndex(stars, ({ at }) => boxAround(at, 0, 0));
  const near = (point: Point): number[] =>
    index.near(boxAround(point, 0, 0), roomMm).filter((i) => distance(stars[i].at, point) <= roomMm);
  const alone = far[first] <= roomMm;
  // What lies in the middle has its own sides to be turned by.
  const from = alone ? angleOf(ownDirection(openings[first].outer), [0, 0]) : angleOf(stars[first].at, centre);
  const turns = alone
    ? [0, 1, 2, 3].map((k) => from + (k * Math.PI) / 2)
    : stars.flatMap(({ at, radius }, i) =>
        Math.abs(far[i] - far[first]) <= roomMm && Math.abs(radius - stars[first].radius) <= roomMm
          ? [angleOf(at, centre)]
          : [],
      );
  return turns.flatMap((to) =>
    [1, -1].flatMap((flip): Symmetry[] => {
      const [cos, sin] = [Math.cos(to - flip * from), Math.sin(to - flip * from)];
      // Mirrored across X first, then turned.
      const map = around(centre, { a: cos, b: -flip * sin, c: sin, d: flip * cos, e: 0, f: 0 });
      const partner = partnersIn(map, stars, near, roomMm);
      if (!partner || (flip === 1 && isNone(map))) return [];
      return partner.every((j, i) => isAlike(openings[i], openings[j], map, roomMm))
        ? [{ map, mirrored: flip < 0, partner }]
        : [];
    }),
  );
}

const angleOf = ([x, y]: Point, [cx, cy]: Point): number => Math.atan2(y - cy, x - cx);

const isNone = ({ a, b }: Affine): boolean => a > 0 && Math.abs(b) < 1e-3;

function partnersIn(
  map: Affine,
  stars: readonly Star[],
  near: (point: Point) => readonly number[],
  roomMm: number,
): readonly number[] | undefined {
  const partner: number[] = [];
  const taken = new Set<number>();
  for (const { at, radius } of stars) {
    const other = near(mapPoint(map, at)).find((j) => !taken.has(j) && Math.abs(stars[j].radius - radius) <= roomMm);
    if (other === undefined) return undefined;
    taken.add(other);
    partner.push(other);
  }
  return partner;
}

/** Whether each corner of the one lies on the other's outline, and the other way round. */
function isAlike(one: Opening, other: Opening, map: Affine, roomMm: number): boolean {
  const rings = [one.outer, ...one.islands].map((ring) => ring.map((point) => mapPoint(map, point)));
  const [outer, ...islands] = rings;
  const [p, q] = [wallsOf({ outer, islands }), wallsOf(other)];
  return (
    rings.flat().every((point) => distanceToWalls(point, q) <= roomMm) &&
    [other.outer, ...other.islands].flat().every((point) => distanceToWalls(point, p) <= roomMm)
  );
}

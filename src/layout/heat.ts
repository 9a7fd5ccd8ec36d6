import type { Warning } from '../errors.js';
import { openingArea } from '../geometry/area.js';
import { regionBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { requireOpenings } from '../geometry/clean.js';
import { DisjointSets } from '../geometry/disjoint-sets.js';
import type { Opening } from '../geometry/types.js';
import { nearestBetween, wallsOf } from '../geometry/walls.js';
import { listIn } from '../kept.js';

/** Openings nearer to each other than this heat the same film, mm. Common practice, no source. */
const CLOSE_MM = 0.3;
/** So many in one cluster are worth a word. Common practice, no source. */
const MANY = 8;
/** An opening of this area is large, mm²; one narrower than this is fine, mm. Common practice, no source. */
const LARGE_MM2 = 4;
const FINE_MM = 0.35;
/** A large opening this near to a fine one heats it, mm. */
const BESIDE_MM = 0.6;
const ROW = 4;

/**
 * Warns where heat gathers: clusters of openings with thin webs between them, and large openings beside a fine row.
 *
 * @param openings - film mm; warnings name them by number from 1
 * @example findHeat(openings)[0].code // 'HEAT_CROWD'
 */
export function findHeat(openings: readonly Opening[]): Warning[] {
  requireOpenings(openings);
  const pairs: [number, number, number][] = [];
  boxIndex(openings, regionBounds).eachPair((i, j) => {
    const near = nearestBetween(wallsOf(openings[i]), wallsOf(openings[j]), BESIDE_MM);
    if (near) pairs.push([i, j, near.distanceMm]);
  }, BESIDE_MM);
  return [...crowds(openings.length, pairs), ...besideLarge(openings, pairs)];
}

function crowds(count: number, pairs: readonly [number, number, number][]): Warning[] {
  const sets = new DisjointSets(count);
  for (const [i, j, distance] of pairs) if (distance < CLOSE_MM) sets.join(i, j);
  const groups = sets
    .groups()
    .map((group) => group.map((i) => i + 1))
    .filter((group) => group.length >= MANY);
  if (groups.length === 0) return [];
  const openings = groups.flat();
  return [
    {
      code: 'HEAT_CROWD',
      message: `${openings.length} openings ${groups.length > 1 ? `in ${groups.length} crowds ` : ''}stand closer than ${CLOSE_MM} mm to each other: the webs between them get hot and may shrink or burn.`,
      hint: 'Let the film cool between passes. Less power and more passes heat it less, but their kerf is another: that takes coupons cut so, and a profile of its own.',
      openings,
    },
  ];
}

function besideLarge(openings: readonly Opening[], pairs: readonly [number, number, number][]): Warning[] {
  const large = openings.map((opening) => openingArea(opening) >= LARGE_MM2);
  const fine = openings.map((opening) => {
    const { minX, minY, maxX, maxY } = regionBounds(opening);
    return Math.min(maxX - minX, maxY - minY) <= FINE_MM;
  });
  const beside = new Map<number, number[]>();
  for (const [i, j] of pairs) {
    if (large[i] && fine[j]) listIn(beside, i).push(j + 1);
    if (large[j] && fine[i]) listIn(beside, j).push(i + 1);
  }
  const rows = [...beside].filter(([, row]) => row.length >= ROW);
  if (rows.length === 0) return [];
  const hot = rows.flatMap(([, row]) => row);
  const [they, them, chips] =
    rows.length > 1
      ? [`${rows.length} large openings (the first ones named) lie`, 'them', 'chips']
      : ['a large opening (the first one named) lies', 'it', 'chip'];
  return [
    {
      code: 'HEAT_BESIDE_LARGE',
      message: `${they} within ${BESIDE_MM} mm of ${hot.length} fine ones: the film between them may shrink.`,
      hint: `Split ${them} into panes with \`treat\`, which also keeps the ${chips} from floating.`,
      openings: [...rows.map(([i]) => i + 1), ...hot],
    },
  ];
}

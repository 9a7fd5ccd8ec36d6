import { type DimensionalFeature, type Feature, isForJaws } from '../../coupon/features.js';
import type { ReadingSession } from '../../machine/types.js';
import type { Observation } from './observations.js';
import { possibleReadings } from './possible.js';

/** Rows of slots whose other coordinate differs by less lie on one line, mm. */
const ONE_LINE_MM = 0.01;

type Axis = 0 | 1;
/** Edges of a row of slots, from its lower end. */
interface Row {
  readonly axis: Axis;
  readonly across: number;
  readonly edges: readonly number[];
}

/** Of many readings that can't be a few may be slips of their own, or windows that were found by their letters. */
const FEW_LEFT_SHARE = 0.25;

const TURNED =
  'the film lay turned or mirrored, or the coupon was cut so: each is what the other end of its ruler reads';
const HYPOTHESES: readonly { readonly mirrored: readonly Axis[]; readonly swap: boolean; readonly say: string }[] = [
  { mirrored: [0], swap: false, say: TURNED },
  { mirrored: [1], swap: false, say: TURNED },
  { mirrored: [0, 1], swap: false, say: TURNED },
  { mirrored: [], swap: true, say: 'X and Y were interchanged: each is what the ruler along the other axis reads' },
];

/**
 * Whether readings that can't be are nearly all explained by a film that was read the wrong way round: a ruler has
 * unlike spans at its two ends, and other lengths along X than along Y, so that it shows.
 *
 * @param impossible - how many can't be as they stand
 * @returns what was wrong with the whole, in words, and how many it leaves unexplained; undefined when it was not that
 */
export function wholeFileCause(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
  impossible: number,
): { readonly say: string; readonly left: number } | undefined {
  const tried = [isOfRuler, isSpan].flatMap((isRead) => {
    const rows = sessions.map(({ features }) => rowsOf(features.filter(isRead)));
    return HYPOTHESES.flatMap(({ mirrored, swap, say }) => {
      const other = lengths.map((length) => {
        const across = isRead(length.feature) ? rowLength(length.feature, rows[length.session], mirrored, swap) : undefined; // biome-ignore format: one thought
        return across ? { ...length, ...across } : length;
      });
      const possible = other.every((length, i) => length === lengths[i]) ? undefined : possibleReadings(other);
      return possible ? [{ say, left: possible.impossible.length }] : [];
    });
  });
  const [best] = tried.sort((a, b) => a.left - b.left);
  return best && best.left <= FEW_LEFT_SHARE * impossible ? best : undefined;
}

const isSpan = (feature: Feature): feature is DimensionalFeature => feature.kind === 'span';

/** Windows for a caliper's jaws lie in rows as slots do, a short one beside a long one. */
function isOfRuler(feature: Feature): feature is DimensionalFeature {
  return isSpan(feature) || ('from' in feature && isForJaws(feature));
}

function rowsOf(spans: readonly DimensionalFeature[]): Row[] {
  const rows: { axis: Axis; across: number; edges: number[] }[] = [];
  for (const { from, to } of spans) {
    const axis = from[1] === to[1] ? 0 : from[0] === to[0] ? 1 : undefined;
    if (axis === undefined) continue;
    const across = from[1 - axis];
    let row = rows.find((one) => one.axis === axis && Math.abs(one.across - across) < ONE_LINE_MM);
    if (!row) {
      row = { axis, across, edges: [] };
      rows.push(row);
    }
    row.edges.push(from[axis], to[axis]);
  }
  return rows
    .map(({ edges, ...row }) => ({ ...row, edges: [...new Set(edges)].sort((a, b) => a - b) }))
    .sort((a, b) => a.across - b.across);
}

/** How long what is read would be, had the film lain mirrored along some axes, or had the axes been interchanged. */
function rowLength(
  { from, to }: DimensionalFeature,
  rows: readonly Row[],
  mirrored: readonly Axis[],
  swap: boolean,
): { readonly dx: number; readonly dy: number } | undefined {
  const axis: Axis | undefined = from[1] === to[1] ? 0 : from[0] === to[0] ? 1 : undefined;
  if (axis === undefined || !(swap || mirrored.includes(axis))) return undefined;
  const along = rows.filter((row) => row.axis === axis);
  const own = along.findIndex(({ across }) => Math.abs(across - from[1 - axis]) < ONE_LINE_MM);
  const places = [from[axis], to[axis]].map((edge) => along[own].edges.indexOf(edge));
  const there = swap ? rows.filter((row) => row.axis !== axis)[own] : along[own];
  if (there?.edges.length !== along[own].edges.length) return undefined;
  const last = there.edges.length - 1;
  const [a, b] = places.map((i) => there.edges[swap ? i : last - i]);
  const lengthMm = Math.abs(b - a);
  return axis === 0 ? { dx: lengthMm, dy: 0 } : { dx: 0, dy: lengthMm };
}

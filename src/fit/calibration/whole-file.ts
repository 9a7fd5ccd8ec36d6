import type { DimensionalFeature } from '../../coupon/features.js';
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

/**
 * Whether readings that can't be are all explained by a film that was read the wrong way round: a ruler has unlike
 * spans at its two ends, and other lengths along X than along Y, so that it shows.
 *
 * @returns what was wrong with the whole, in words; undefined when it was not that
 */
export function wholeFileCause(
  lengths: readonly Observation[],
  sessions: readonly ReadingSession[],
): string | undefined {
  const rows = sessions.map(({ features }) => rowsOf(features.filter((one): one is DimensionalFeature => one.kind === 'span'))); // biome-ignore format: one call
  const explains = (axes: readonly Axis[], swap = false): boolean => {
    let changed = 0;
    const other = lengths.map((length) => {
      const across = rowLength(length, rows[length.session], axes, swap);
      if (across === undefined) return length;
      changed += 1;
      return { ...length, ...across };
    });
    return changed > 0 && possibleReadings(other)?.impossible.length === 0;
  };
  if (explains([0]) || explains([1]) || explains([0, 1]))
    return 'the film lay turned or mirrored, or the coupon was cut so: each is what the other end of its ruler reads';
  if (explains([], true)) return 'X and Y were interchanged: each is what the ruler along the other axis reads';
  return undefined;
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
  { feature, kind }: Observation,
  rows: readonly Row[],
  mirrored: readonly Axis[],
  swap: boolean,
): { readonly dx: number; readonly dy: number } | undefined {
  if (kind !== 'span' || !('from' in feature)) return undefined;
  const { from, to } = feature;
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

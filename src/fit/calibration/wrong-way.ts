import { axisAlong, type DimensionalFeature, type Feature, isForJaws, vectorOf } from '../../coupon/features.js';

/** Rows of slots whose other coordinate differs by less lie on one line, mm. */
const ONE_LINE_MM = 0.01;

type Axis = 0 | 1;

/** A way in which a film may have lain, other than the worksheet shows it. */
export interface LaidWrong {
  readonly mirrored: readonly Axis[];
  readonly swap: boolean;
}

/** Lengths that differ by less than this share are read for each other. */
const ALIKE = 0.05;

/** Whether any of some lengths would read otherwise, had the film lain so. */
export function wouldShow(laid: LaidWrong, read: readonly DimensionalFeature[], all: readonly Feature[]): boolean {
  // Windows stand at places of their own.
  return [isSpan, isWindow].some((isOne) => {
    const rows = rulerRows(all.filter(isOne));
    return read.filter(isOne).some((one) => {
      // What no row of the other axis has can't be found there.
      const { dx, dy } = lengthIf(laid, one, rows) ?? { dx: 0, dy: 0 };
      return isMoved(laid, axisOf(one)) && Math.abs((dx + dy) / one.nominalMm - 1) >= ALIKE;
    });
  });
}

export const isSpan = (feature: Feature): feature is DimensionalFeature => feature.kind === 'span';
const isWindow = (feature: Feature): feature is DimensionalFeature => 'from' in feature && isForJaws(feature);

/** Windows for a caliper's jaws lie in rows as slots do, a short one beside a long one. */
export const isOfRuler = (feature: Feature): feature is DimensionalFeature => isSpan(feature) || isWindow(feature);

function axisOf(feature: Pick<DimensionalFeature, 'from' | 'to'>): Axis | undefined {
  const along = axisAlong(vectorOf(feature));
  return along && (along === 'x' ? 0 : 1);
}

const isMoved = ({ mirrored, swap }: LaidWrong, axis: Axis | undefined): axis is Axis =>
  axis !== undefined && (swap || mirrored.includes(axis));

/** Rows of slots, with their edges from the lower end. */
export function rulerRows(spans: readonly DimensionalFeature[]) {
  const rows: { axis: Axis; across: number; edges: number[] }[] = [];
  for (const { from, to } of spans) {
    const axis = axisOf({ from, to });
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
export function lengthIf(
  { mirrored, swap }: LaidWrong,
  { from, to }: DimensionalFeature,
  rows: ReturnType<typeof rulerRows>,
): { readonly dx: number; readonly dy: number } | undefined {
  const axis = axisOf({ from, to });
  if (!isMoved({ mirrored, swap }, axis)) return undefined;
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

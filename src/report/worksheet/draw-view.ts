import type { CellFeature, DimensionalFeature, Feature, VernierFeature } from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { boxesNear, ringBounds } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import type { Ink } from './ink.js';
import { placeLabel, type Taken } from './label-places.js';
import type { View } from './views.js';

const ARROW_MM = 1.5;
const ARROW_HALF_MM = 0.45;
const LINE_MM = 0.15;
const ID_PT = 6;
const ID_HEIGHT_MM = 2.2;
/** Distance between the measuring lines of spans that lie along each other. */
const LANE_MM = 2.5;

/** Draws a part of the coupon: openings grey, an arrow pair with its tips at exactly the two edges, and the ids. */
export function drawView(ink: Ink, coupon: Coupon, view: View): void {
  const { box, at, scale } = view;
  const map = ([x, y]: Point): Point => [at[0] + (x - box.minX) * scale, at[1] + (y - box.minY) * scale];
  const [width, height] = [(box.maxX - box.minX) * scale, (box.maxY - box.minY) * scale];
  const frame: Box = { minX: at[0], minY: at[1], maxX: at[0] + width, maxY: at[1] + height };
  const shown = coupon.openings.filter((opening) => inside(ringBounds(opening.outer), box));
  ink.openings(shown, map, 'opening');
  ink.box(at[0], at[1], width, height, { lineMm: 0.15 });
  if (view.title) ink.text(view.title, [at[0], frame.maxY + 1], { sizePt: 7, bold: true });
  const taken: Taken = {
    ink: [],
    grey: shown.map(({ outer }) => {
      const [[minX, minY], [maxX, maxY]] = corners(ringBounds(outer)).map(map);
      return { minX, minY, maxX, maxY };
    }),
  };
  const lanes = laneOf(view.features.filter((feature): feature is DimensionalFeature => feature.kind === 'span'));
  const ids: { feature: Feature; anchor: Point }[] = [];
  for (const feature of view.features) {
    if (feature.kind === 'cell') drawCell(ink, feature, map);
    else if (feature.kind === 'vernier') ids.push({ feature, anchor: drawVernier(ink, feature, map) });
    else ids.push({ feature, anchor: drawArrows(ink, feature, map, lanes.get(feature.id) ?? 0, taken) });
  }
  for (const { feature, anchor } of ids) writeId(ink, feature.id, anchor, frame, taken);
}

const corners = ({ minX, minY, maxX, maxY }: Box): [Point, Point] => [[minX, minY], [maxX, maxY]]; // biome-ignore format: pair

const inside = (p: Box, q: Box): boolean =>
  p.minX >= q.minX - 1e-6 && p.minY >= q.minY - 1e-6 && p.maxX <= q.maxX + 1e-6 && p.maxY <= q.maxY + 1e-6;

/** Spans on one line get lanes beside each other, so that no two measuring lines overlap; longest spans innermost. */
function laneOf(spans: readonly DimensionalFeature[]): Map<string, number> {
  const lines = new Map<string, { low: number; high: number; lane: number }[]>();
  const lanes = new Map<string, number>();
  for (const span of [...spans].sort((p, q) => q.nominalMm - p.nominalMm)) {
    const [ux, uy] = [(span.to[0] - span.from[0]) / span.nominalMm, (span.to[1] - span.from[1]) / span.nominalMm];
    const offset = span.from[1] * ux - span.from[0] * uy;
    const line = `${ux.toFixed(3)} ${uy.toFixed(3)} ${offset.toFixed(2)}`;
    const start = span.from[0] * ux + span.from[1] * uy;
    const [low, high] = [start + 1e-6, start + span.nominalMm - 1e-6];
    const placed = lines.get(line) ?? [];
    let lane = 0;
    while (placed.some((other) => other.lane === lane && other.low < high && low < other.high)) lane += 1;
    lines.set(line, [...placed, { low, high, lane }]);
    lanes.set(span.id, lane);
  }
  return lanes;
}

function arrow(ink: Ink, tip: Point, [ux, uy]: Point): void {
  const base: Point = [tip[0] - ux * ARROW_MM, tip[1] - uy * ARROW_MM];
  ink.polygon(
    [
      tip,
      [base[0] - uy * ARROW_HALF_MM, base[1] + ux * ARROW_HALF_MM],
      [base[0] + uy * ARROW_HALF_MM, base[1] - ux * ARROW_HALF_MM],
    ],
    'arrow',
  );
}

/** Arrows between the edges where there is room, else from outside against them. Returns where the id belongs. */
function drawArrows(
  ink: Ink,
  { from, to }: DimensionalFeature,
  map: (p: Point) => Point,
  lane: number,
  taken: Taken,
): Point {
  const [a0, b0] = [map(from), map(to)];
  const length = Math.hypot(b0[0] - a0[0], b0[1] - a0[1]);
  const [ux, uy]: Point = [(b0[0] - a0[0]) / length, (b0[1] - a0[1]) / length];
  // Lanes go to the left of the walking direction along X (up) and to the right along Y, away from the labels.
  const side = (lane * LANE_MM) * (Math.abs(ux) >= Math.abs(uy) ? 1 : -1); // biome-ignore format: clear
  const aside = ([x, y]: Point): Point => [x - uy * side, y + ux * side];
  const [a, b] = [aside(a0), aside(b0)];
  if (lane > 0) {
    for (const [edge, tip] of [[a0, a], [b0, b]]) ink.line(edge, tip, 0.08, 'arrow'); // biome-ignore format: pairs
  }
  const outside = length < 2.6 * ARROW_MM;
  if (outside) {
    ink.line([a[0] - ux * 1.4 * ARROW_MM, a[1] - uy * 1.4 * ARROW_MM], a, LINE_MM, 'arrow');
    ink.line(b, [b[0] + ux * 1.4 * ARROW_MM, b[1] + uy * 1.4 * ARROW_MM], LINE_MM, 'arrow');
  } else ink.line(a, b, LINE_MM, 'arrow');
  arrow(ink, a, outside ? [ux, uy] : [-ux, -uy]);
  arrow(ink, b, outside ? [-ux, -uy] : [ux, uy]);
  const reach = outside ? 1.4 * ARROW_MM : 0;
  const steps = Math.max(1, Math.ceil(length / 3));
  // A slanted line is many small boxes, so that ids may stand near it.
  for (let i = 0; i <= steps; i += 1) {
    const t = i / steps;
    taken.ink.push(
      boxAt([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t], outside ? reach : 0.5, outside ? ux : 1),
    );
  }
  return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
}

function boxAt([x, y]: Point, reach: number, along: number): Box {
  const [rx, ry] = Math.abs(along) >= Math.SQRT1_2 ? [Math.max(reach, 0.4), 0.5] : [0.5, Math.max(reach, 0.4)];
  return { minX: x - rx, minY: y - ry, maxX: x + rx, maxY: y + ry };
}

function writeId(ink: Ink, id: string, anchor: Point, frame: Box, taken: Taken): void {
  const style = { sizePt: ID_PT, bold: true };
  const width = ink.widthMm(id, style) + 0.4;
  const [x, y] = placeLabel(anchor, { width, height: ID_HEIGHT_MM }, frame, taken);
  const box: Box = { minX: x - width / 2, minY: y - ID_HEIGHT_MM / 2, maxX: x + width / 2, maxY: y + ID_HEIGHT_MM / 2 };
  if (taken.grey.some((other) => boxesNear(box, other, 0))) {
    ink.box(box.minX, box.minY, width, ID_HEIGHT_MM, { fill: 'white' });
  }
  if (Math.hypot(x - anchor[0], y - anchor[1]) > 3.4) ink.line(anchor, [x, y], 0.06, 'rule');
  ink.text(id, [x, y - 0.75], { ...style, align: 'middle' });
  taken.ink.push(box);
}

/** Cells are large enough to carry their id; it stands in the middle. */
function drawCell(ink: Ink, { id, box: [x0, y0, x1, y1] }: CellFeature, map: (p: Point) => Point): void {
  const [a, b] = [map([x0, y0]), map([x1, y1])];
  ink.box(a[0], a[1], b[0] - a[0], b[1] - a[1], { lineMm: 0.2 });
  ink.text(id, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2 - 0.75], { sizePt: ID_PT, bold: true, align: 'middle' });
}

function drawVernier(ink: Ink, { box: [x0, y0, x1, y1] }: VernierFeature, map: (p: Point) => Point): Point {
  const [a, b] = [map([x0, y0]), map([x1, y1])];
  ink.box(a[0] - 0.5, a[1] - 0.5, b[0] - a[0] + 1, b[1] - a[1] + 1, { lineMm: 0.2 });
  return [(a[0] + b[0]) / 2, a[1] - 2];
}

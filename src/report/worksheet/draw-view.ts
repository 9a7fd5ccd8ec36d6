import {
  type CellFeature,
  type DimensionalFeature,
  type Feature,
  isForJaws,
  type VernierFeature,
} from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { boxAround, boxesNear, boxWithin, grownBox, ringBounds } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import type { Ink } from '../ink.js';
import type { CouponView } from './views.js';

const ARROW_MM = 1.2;
const ARROW_HALF_MM = 0.4;
const LINE_BOX_MM = 0.7;
const LINE_MM = 0.15;
const ID_PT = 6;
const ID_HEIGHT_MM = 2.2;
/** A name farther from its place than this gets a hair line. */
const FAR_MM = 3.6;
const SLOT_PT = 6;
const SLOT_HEIGHT_MM = 2;
/** Distance between the measuring lines of spans that lie along each other. */
const LANE_MM = 2.5;

/** Draws a part of the coupon: openings grey, an arrow pair with its tips at exactly the two edges, and the ids. */
export function drawView(ink: Ink, coupon: Coupon, view: CouponView): void {
  const { box, at, scale } = view;
  const map = ([x, y]: Point): Point => [at[0] + (x - box.minX) * scale, at[1] + (y - box.minY) * scale];
  const [width, height] = [(box.maxX - box.minX) * scale, (box.maxY - box.minY) * scale];
  const frame: Box = { minX: at[0], minY: at[1], maxX: at[0] + width, maxY: at[1] + height };
  const shown = coupon.openings.filter((opening) => boxWithin(ringBounds(opening.outer), box, 1e-6));
  ink.openings(shown, map, 'opening');
  ink.box(at[0], at[1], width, height, { lineMm: 0.15 });
  if (view.title) ink.text(view.title, [at[0], frame.maxY + 1], { sizePt: 7, bold: true });
  const taken: Taken = {
    ink: [],
    grey: shown.map(({ outer }) => ringBounds(corners(ringBounds(outer)).map(map))),
  };
  for (const { box: part, name } of view.frames ?? []) {
    const { minX, minY, maxX, maxY } = ringBounds(corners(part).map(map));
    ink.box(minX, minY, maxX - minX, maxY - minY, { lineMm: 0.2 });
    ink.text(name, [maxX + 0.6, maxY - 2.2], { sizePt: 6.5, bold: true });
  }
  const lanes = laneOf(view.features.filter(isLong));
  const drawn: Drawn[] = [];
  drawCells(
    ink,
    view.features.filter((feature): feature is CellFeature => feature.kind === 'cell'),
    map,
    frame,
  );
  for (const feature of view.features) {
    if (feature.kind === 'cell') continue;
    if (feature.kind === 'vernier') drawn.push(drawVernier(ink, feature, map));
    else drawn.push(drawArrows(ink, feature, map, lanes.get(feature.id) ?? 0, frame));
  }
  for (const one of drawn) taken.ink.push(...one.boxes);
  for (const one of drawn) writeId(ink, one, frame, taken);
  for (const [name, place] of slotNames(view.features)) writeSlotName(ink, name, map(place), frame, taken);
}

/** From one slot or window to another. */
function isLong(feature: Feature): feature is DimensionalFeature {
  return feature.kind === 'span' || isForJaws(feature);
}

/** Names of the slots that spans go between, and where each slot is measured first. */
function slotNames(features: readonly Feature[]): Map<string, Point> {
  const names = new Map<string, Point>();
  for (const feature of features) {
    if (!isLong(feature)) continue;
    const found = [...feature.say.matchAll(/\b(?:slot|window) ([A-Z]\d+)\b/g)].map(([, name]) => name);
    if (found.length !== 2) continue;
    for (const [i, place] of [feature.from, feature.to].entries())
      if (!names.has(found[i])) names.set(found[i], [place[0], place[1]]);
  }
  return names;
}

/** The cut letters are small on paper, and lie under the arrows: the name in print, beside its slot. */
function writeSlotName(ink: Ink, name: string, anchor: Point, frame: Box, taken: Taken): void {
  const style = { sizePt: SLOT_PT };
  const size = { width: ink.widthMm(name, style) + 0.3, height: SLOT_HEIGHT_MM };
  const [x, y] = placeLabel(anchor, size, frame, taken);
  if (Math.hypot(x - anchor[0], y - anchor[1]) > FAR_MM) ink.line(anchor, [x, y], 0.06, 'rule');
  ink.text(name, [x, y - 0.6], { ...style, align: 'middle' });
  taken.ink.push(boxAround([x, y], size.width, size.height));
}

/** A feature's arrows on the paper. */
interface Drawn {
  readonly id: string;
  readonly boxes: readonly Box[];
  /** Where its id belongs: on the line between the arrows where that is long enough, else near the anchor. */
  readonly anchor: Point;
  readonly line?: readonly [Point, Point];
}

const corners = ({ minX, minY, maxX, maxY }: Box): [Point, Point] => [
  [minX, minY],
  [maxX, maxY],
];

const insideFrame = ([x, y]: Point, { minX, minY, maxX, maxY }: Box): boolean =>
  x >= minX && y >= minY && x <= maxX && y <= maxY;

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

/** Arrows between the edges where there is room, else from outside against them. */
function drawArrows(
  ink: Ink,
  { id, from, to, nominalMm }: DimensionalFeature,
  map: (p: Point) => Point,
  lane: number,
  frame: Box,
): Drawn {
  const [a0, b0] = [map(from), map(to)];
  const length = Math.hypot(b0[0] - a0[0], b0[1] - a0[1]);
  const [ux, uy]: Point = [(b0[0] - a0[0]) / length, (b0[1] - a0[1]) / length];
  // Lanes go up along X and to the right along Y, or the other way where that would leave the drawing.
  const away = lane * LANE_MM * (Math.abs(ux) >= Math.abs(uy) ? 1 : -1);
  const moved = ([x, y]: Point, side: number): Point => [x - uy * side, y + ux * side];
  const side = [a0, b0].every((p) => insideFrame(moved(p, away), frame)) ? away : -away;
  const aside = (p: Point): Point => moved(p, side);
  const [a, b] = [aside(a0), aside(b0)];
  if (lane > 0)
    for (const [edge, tip] of [
      [a0, a],
      [b0, b],
    ])
      ink.line(edge, tip, 0.08, 'arrow');
  const outside = length < 3 * ARROW_MM;
  // Neighbours stand about two millimetres of film apart: short tails where that is little paper.
  const tail = outside ? Math.max(ARROW_MM, Math.min(1.5 * ARROW_MM, (0.75 * length) / nominalMm)) : 0;
  const start: Point = [a[0] - ux * tail, a[1] - uy * tail];
  const end: Point = [b[0] + ux * tail, b[1] + uy * tail];
  if (outside) {
    ink.line(start, a, LINE_MM, 'arrow');
    ink.line(b, end, LINE_MM, 'arrow');
  } else ink.line(a, b, LINE_MM, 'arrow');
  arrow(ink, a, outside ? [ux, uy] : [-ux, -uy]);
  arrow(ink, b, outside ? [-ux, -uy] : [ux, uy]);
  // A slanted line is many small boxes, so that ids may stand near it.
  const steps = Math.max(1, Math.ceil(Math.hypot(end[0] - start[0], end[1] - start[1]) / LINE_BOX_MM));
  const boxes = Array.from({ length: steps + 1 }, (_, i): Box => {
    const [x, y] = [start[0] + ((end[0] - start[0]) * i) / steps, start[1] + ((end[1] - start[1]) * i) / steps];
    return grownBox({ minX: x, minY: y, maxX: x, maxY: y }, ARROW_HALF_MM);
  });
  const anchor: Point = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  return { id, boxes, anchor, ...(outside ? {} : { line: [a, b] as const }) };
}

/** An id in a gap of its own line where there is one, else as near as can be, with a hair line when it is far. */
function writeId(ink: Ink, { id, anchor, line, boxes }: Drawn, frame: Box, taken: Taken): void {
  const style = { sizePt: ID_PT, bold: true };
  const width = ink.widthMm(id, style) + 0.5;
  const around = (middle: Point): Box => boxAround(middle, width, ID_HEIGHT_MM);
  const own = new Set(boxes);
  const onLine =
    line &&
    alongLine(line, width).find((point) => {
      const box = around(point);
      return (
        !taken.ink.some((other) => !own.has(other) && boxesNear(box, other, 0.1)) &&
        !taken.grey.some((other) => boxesNear(box, other, 0.1))
      );
    });
  const [x, y] = onLine ?? placeLabel(anchor, { width, height: ID_HEIGHT_MM }, frame, taken);
  const box = around([x, y]);
  if (!onLine && Math.hypot(x - anchor[0], y - anchor[1]) > FAR_MM) ink.line(anchor, [x, y], 0.06, 'rule');
  if (onLine || taken.grey.some((other) => boxesNear(box, other, 0))) {
    ink.box(box.minX, box.minY, width, ID_HEIGHT_MM, { fill: 'white' });
  }
  ink.text(id, [x, y - 0.75], { ...style, align: 'middle' });
  taken.ink.push(box);
}

/** Points on a line where an id could interrupt it, from its middle outwards; none when the line is too short. */
function alongLine([a, b]: readonly [Point, Point], width: number): Point[] {
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const level = Math.abs(b[0] - a[0]) / length;
  const half = (level * width + (1 - level) * ID_HEIGHT_MM) / 2 + ARROW_MM + 0.3;
  const points: Point[] = [];
  for (let off = 0; off <= length / 2 - half; off += 0.8) {
    for (const sign of off === 0 ? [1] : [1, -1]) {
      const t = 0.5 + (sign * off) / length;
      points.push([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]);
    }
  }
  return points;
}

function drawVernier(ink: Ink, { id, box: [x0, y0, x1, y1] }: VernierFeature, map: (p: Point) => Point): Drawn {
  const [a, b] = [map([x0, y0]), map([x1, y1])];
  ink.box(a[0] - 0.5, a[1] - 0.5, b[0] - a[0] + 1, b[1] - a[1] + 1, { lineMm: 0.2 });
  return { id, boxes: [], anchor: [(a[0] + b[0]) / 2, a[1] - 2] };
}

/** What is drawn already, so that ids do not land on it. Paper mm. */
export interface Taken {
  /** Arrows and ids: never written over. */
  readonly ink: Box[];
  /** Openings: written over when there is no other place. */
  readonly grey: Box[];
}

/** How far from its arrow an id may stand, mm. */
const REACH_MM = 14;
const STEP_MM = 0.7;

/**
 * The nearest free place for a text of this size around an anchor, inside a frame; the centre of the text.
 * Straight to the sides first, then in ever wider squares. Where nothing is free it lies within an opening, and only where
 * that fails too across the edge of one: an edge may be what is to be measured.
 */
function placeLabel(anchor: Point, size: { width: number; height: number }, frame: Box, taken: Taken): Point {
  const reach = boxAround(anchor, size.width + 2 * REACH_MM + 1, size.height + 2 * REACH_MM + 1);
  const ink = taken.ink.filter((other) => boxesNear(reach, other));
  const grey = taken.grey.filter((other) => boxesNear(reach, other));
  let onGrey: Point | undefined;
  let onEdge: Point | undefined;
  for (let ring = 0; ring * STEP_MM <= REACH_MM; ring += 1) {
    for (const [dx, dy] of ringOffsets(ring)) {
      const centre: Point = [anchor[0] + dx * STEP_MM, anchor[1] + dy * STEP_MM];
      const box = boxAround(centre, size.width, size.height);
      if (!boxWithin(box, frame) || ink.some((other) => boxesNear(box, other, 0.15))) continue;
      const under = grey.filter((other) => boxesNear(box, other, 0.1));
      if (under.length === 0) return centre;
      if (under.every((other) => boxWithin(box, other))) onGrey ??= centre;
      else onEdge ??= centre;
    }
    // A place on grey nearby reads better than a free one far off.
    if (onGrey && ring * STEP_MM > REACH_MM / 2) return onGrey;
  }
  return onGrey ?? onEdge ?? anchor;
}

const rings: Point[][] = [[[0, 0]]];

/** Cells of a square ring around the origin, those on the axes first. */
function ringOffsets(ring: number): Point[] {
  if (rings[ring]) return rings[ring];
  const cells: Point[] = [];
  for (let i = -ring; i <= ring; i += 1) {
    cells.push([i, ring], [i, -ring]);
    if (Math.abs(i) < ring) cells.push([ring, i], [-ring, i]);
  }
  rings[ring] = cells.sort(
    (p, q) => Math.min(Math.abs(p[0]), Math.abs(p[1])) - Math.min(Math.abs(q[0]), Math.abs(q[1])),
  );
  return rings[ring];
}

const ID_STYLE = { sizePt: 6, bold: true, align: 'middle' } as const;
const LINE_HEIGHT_MM = 2.2;
/** Half the height of capitals of this type: from their middle to their base line, mm. */
const TO_BASE_MM = 0.75;

/** A cell's box on the paper. */
interface OnPaper {
  readonly cell: CellFeature;
  readonly box: Box;
}

/**
 * Cells with their ids in them, on two lines where they are narrow; cells that are too small for that have the powers and
 * speeds written beside the rows and below the columns instead.
 */
function drawCells(ink: Ink, cells: readonly CellFeature[], map: (p: Point) => Point, frame: Box): void {
  const placed = cells.map((cell): OnPaper => {
    const [x0, y0, x1, y1] = cell.box;
    return { cell, box: ringBounds([map([x0, y0]), map([x1, y1])]) };
  });
  for (const { box } of placed) ink.box(box.minX, box.minY, box.maxX - box.minX, box.maxY - box.minY, { lineMm: 0.2 });
  if (placed.every((one) => linesIn(ink, one))) for (const one of placed) writeCellId(ink, one);
  else writeSettings(ink, placed, frame);
}

/** The lines on which an id fits into its cell; undefined when it does not. */
function linesIn(ink: Ink, { cell: { id }, box }: OnPaper): string[] | undefined {
  const fits = (text: string): boolean => ink.widthMm(text, ID_STYLE) < box.maxX - box.minX - 0.2;
  if (fits(id)) return [id];
  const cut = id.lastIndexOf('S');
  const lines = [id.slice(0, cut), id.slice(cut)];
  return cut > 0 && lines.every(fits) && 2 * LINE_HEIGHT_MM < box.maxY - box.minY ? lines : undefined;
}

function writeCellId(ink: Ink, one: OnPaper): void {
  const { box } = one;
  const lines = linesIn(ink, one) ?? [];
  lines.forEach((text, i) => {
    const y = (box.minY + box.maxY) / 2 - TO_BASE_MM + ((lines.length - 1) / 2 - i) * LINE_HEIGHT_MM;
    ink.text(text, [(box.minX + box.maxX) / 2, y], ID_STYLE);
  });
}

/** Powers left of the frame, speeds below it; as many as have room. */
function writeSettings(ink: Ink, placed: readonly OnPaper[], frame: Box): void {
  const rows = new Map(placed.map(({ cell, box }) => [cell.powerPercent, (box.minY + box.maxY) / 2]));
  const columns = new Map(placed.map(({ cell, box }) => [cell.speedMmS, (box.minX + box.maxX) / 2]));
  let last = Number.NEGATIVE_INFINITY;
  for (const [power, y] of [...rows].sort((p, q) => p[1] - q[1])) {
    if (y - last < LINE_HEIGHT_MM) continue;
    ink.text(`P${power}`, [frame.minX - 0.8, y - TO_BASE_MM], { ...ID_STYLE, align: 'right' });
    last = y;
  }
  last = Number.NEGATIVE_INFINITY;
  for (const [speed, x] of [...columns].sort((p, q) => p[1] - q[1])) {
    const half = ink.widthMm(`S${speed}`, ID_STYLE) / 2 + 0.4;
    if (x - half < last) continue;
    ink.text(`S${speed}`, [x, frame.minY - LINE_HEIGHT_MM - 0.2], ID_STYLE);
    last = x + half;
  }
}

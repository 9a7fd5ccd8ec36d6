import {
  type CellFeature,
  type DimensionalFeature,
  type Feature,
  isForJaws,
  type VernierFeature,
} from '../../coupon/features.js';
import type { Coupon } from '../../coupon/types.js';
import { boxAround, boxesNear, boxWithin, grownBox, ringBounds } from '../../geometry/bounds.js';
import { boxRing } from '../../geometry/shapes.js';
import type { Box, Point, Region } from '../../geometry/types.js';
import type { Ink } from '../ink.js';
import {
  boxesAlong,
  type Drawn,
  HEIGHT_MM,
  LABEL_PT,
  type Named,
  type Stretch,
  TO_BASE_MM,
  type ViewOnPaper,
  writeBeside,
  writeOnLine,
} from './labels.js';
import type { CouponView } from './views.js';

const ARROW_MM = 1.2;
const ARROW_HALF_MM = 0.4;
const LINE_MM = 0.15;
const RULED = { line: 'rule', width: 0.2 } as const;
/** Distance between the measuring lines of spans that lie along each other. */
const LANE_MM = 2.5;

/** Draws a part of the coupon: openings grey, an arrow pair with its tips at exactly the two edges, and the ids. */
export function drawView(ink: Ink, coupon: Coupon, view: CouponView): void {
  const { box, at, scale } = view;
  const map = ([x, y]: Point): Point => [at[0] + (x - box.minX) * scale[0], at[1] + (y - box.minY) * scale[1]];
  const [width, height] = [(box.maxX - box.minX) * scale[0], (box.maxY - box.minY) * scale[1]];
  const frame: Box = { minX: at[0], minY: at[1], maxX: at[0] + width, maxY: at[1] + height };
  const { others, letters } = openingsIn(coupon, view);
  ink.regions([...others, ...letters], map, { fill: 'opening' });
  ink.box(frame, { line: 'rule', width: 0.15 });
  if (view.title) ink.text(view.title, [at[0], frame.maxY + 1], { sizePt: 7, bold: true });
  for (const { box: part, name } of view.frames ?? []) {
    const shown = ringBounds(boxRing(part).map(map));
    ink.box(shown, RULED);
    const middle: Point = [(shown.minX + shown.maxX) / 2, (shown.minY + shown.maxY) / 2];
    ink.box(boxAround(middle, 2.6, 3), { fill: 'white' });
    ink.text(name, [middle[0], middle[1] - 1.1], { sizePt: 9, bold: true, align: 'middle' });
  }
  const lanes = laneOf(view.features.filter(isLong));
  const drawing: ViewOnPaper = { ink, frame, map };
  const cells = view.features.filter((feature) => feature.kind === 'cell');
  drawCells(drawing, cells);
  const arrows = view.features.flatMap((feature): Arrows[] => {
    if (feature.kind === 'cell') return [];
    if (feature.kind === 'vernier') return [drawVernier(drawing, feature)];
    return [drawArrows(drawing, feature, lanes.get(feature.id) ?? 0)];
  });
  const onPaper = ({ outer }: Region): Box => ringBounds(boxRing(ringBounds(outer)).map(map));
  const drawn: Drawn = {
    ...drawing,
    inked: arrows.flatMap(({ boxes }) => boxes),
    lines: arrows.flatMap(({ stretches }) => stretches),
    labels: [],
    leaders: [],
    openings: others.map(onPaper),
    letters: letters.map(onPaper),
  };
  const slots = [...slotNames(view.features)].map(([words, place]) => ({ words, at: map(place) }));
  writeNames(drawn, arrows, slots);
}

/** Openings, and cut letters apart: these are left out where all names are printed beside the slots. */
function openingsIn({ openings, labels }: Coupon, { box, features }: CouponView) {
  const written = labels.map(({ box: [minX, minY, maxX, maxY] }): Box => ({ minX, minY, maxX, maxY }));
  const isLetter = ({ outer }: Region): boolean => {
    const { minX, minY, maxX, maxY } = ringBounds(outer);
    // By its middle: strokes are as wide as the kerf allows, and reach out of the box.
    const middle = boxAround([(minX + maxX) / 2, (minY + maxY) / 2], 0, 0);
    return written.some((label) => boxWithin(middle, label));
  };
  const within = openings.filter(({ outer }) => boxWithin(ringBounds(outer), box, 1e-6));
  return {
    others: within.filter((opening) => !isLetter(opening)),
    letters: features.every(isLong) ? [] : within.filter(isLetter),
  };
}

/** Ids in gaps of their lines, those with the least choice first; then those that stand beside their lines, and the slots' names. */
function writeNames(
  drawn: Drawn,
  arrows: readonly Arrows[],
  slots: readonly { readonly words: string; readonly at: Point }[],
): void {
  const named = (one: Arrows): Named => {
    const alone = arrows.every((other) => other === one || apart(other.middle, one.middle) > 1);
    const anchors = one.line || !alone ? one.anchors : [one.middle];
    const own = new Set<unknown>([...one.boxes, ...one.stretches]);
    return { words: one.id, bold: true, anchors, own, line: one.stretches[0], dot: one.line !== undefined };
  };
  const lengthOf = ({ line }: Arrows): number => (line ? apart(...line) : Number.POSITIVE_INFINITY);
  const beside = [...arrows]
    .sort((p, q) => lengthOf(p) - lengthOf(q))
    .filter((one) => !one.line || !writeOnLine(drawn, named(one), one.line, ARROW_MM + 0.3));
  for (const one of beside) writeBeside(drawn, named(one));
  for (const { words, at } of slots) {
    const slot = drawn.openings.find((box) => boxesNear(box, boxAround(at, 0.05, 0.05))) ?? boxAround(at, 0, 0);
    const [middleX, middleY] = [(slot.minX + slot.maxX) / 2, (slot.minY + slot.maxY) / 2];
    const anchors: Point[] = [
      [slot.minX, middleY],
      [slot.maxX, middleY],
      [middleX, slot.minY],
      [middleX, slot.maxY],
    ];
    writeBeside(drawn, { words, bold: false, anchors, own: new Set(), dot: true });
  }
}

const apart = (p: Point, q: Point): number => Math.hypot(p[0] - q[0], p[1] - q[1]);

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

/** A feature's arrows on the paper. */
interface Arrows {
  readonly id: string;
  readonly boxes: readonly Box[];
  readonly stretches: readonly Stretch[];
  readonly middle: Point;
  /** Where a leader may begin. */
  readonly anchors: readonly Point[];
  /** Between the arrows, where they stand between the edges. */
  readonly line?: Stretch;
}

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
    { fill: 'arrow' },
  );
}

/** Arrows between the edges where there is room, else from outside against them. */
function drawArrows({ ink, frame, map }: ViewOnPaper, feature: DimensionalFeature, lane: number): Arrows {
  const { id, from, to, nominalMm } = feature;
  const [a0, b0] = [map(from), map(to)];
  const length = Math.hypot(b0[0] - a0[0], b0[1] - a0[1]);
  const [ux, uy]: Point = [(b0[0] - a0[0]) / length, (b0[1] - a0[1]) / length];
  // Lanes go up along X and to the right along Y, or the other way where that leaves no room for a name on the line.
  const level = Math.abs(ux) >= Math.abs(uy);
  const away = lane * LANE_MM * (level ? 1 : -1);
  const moved = ([x, y]: Point, side: number): Point => [x - uy * side, y + ux * side];
  const inside = (p: Point): boolean => boxWithin(boxAround(p, level ? 0 : HEIGHT_MM, level ? HEIGHT_MM : 0), frame);
  const side = [a0, b0].every((p) => inside(moved(p, away))) ? away : -away;
  const aside = (p: Point): Point => moved(p, side);
  const [a, b] = [aside(a0), aside(b0)];
  const offsets = lane > 0 ? [a0, b0].map((edge): Stretch => [edge, aside(edge)]) : [];
  for (const [edge, tip] of offsets) ink.line(edge, tip, 0.08, 'arrow');
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
  const boxes = [...boxesAlong([start, end], ARROW_HALF_MM), ...offsets.flatMap((offset) => boxesAlong(offset, 0.1))];
  const at = (t: number): Point => [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
  return {
    id,
    boxes,
    stretches: outside ? [[start, a], [b, end], ...offsets] : [[a, b], ...offsets],
    middle: at(0.5),
    // The lower one of what stands above another, so that two in a column do not share a place.
    anchors: outside
      ? Math.abs(ux) < Math.abs(uy)
        ? [uy > 0 ? start : end]
        : [start, end]
      : [0.5, 0.4, 0.6, 0.3, 0.7].map(at),
    line: outside ? undefined : [a, b],
  };
}

function drawVernier({ ink, map }: ViewOnPaper, { id, box: [x0, y0, x1, y1] }: VernierFeature): Arrows {
  const [a, b] = [map([x0, y0]), map([x1, y1])];
  const box = grownBox(ringBounds([a, b]), 0.5);
  ink.box(box, RULED);
  const below: Point = [(a[0] + b[0]) / 2, a[1] - 0.5];
  return { id, boxes: [box], stretches: [], middle: below, anchors: [below] };
}

const ID_STYLE = { sizePt: LABEL_PT, bold: true, align: 'middle' } as const;

/** A cell's box on the paper. */
interface OnPaper {
  readonly cell: CellFeature;
  readonly box: Box;
}

/**
 * Cells with their ids in them, on two lines where they are narrow; cells that are too small for that have the powers and
 * speeds written beside the rows and below the columns instead.
 */
function drawCells({ ink, frame, map }: ViewOnPaper, cells: readonly CellFeature[]): void {
  const placed = cells.map((cell): OnPaper => {
    const [x0, y0, x1, y1] = cell.box;
    return { cell, box: ringBounds([map([x0, y0]), map([x1, y1])]) };
  });
  for (const { box } of placed) ink.box(box, RULED);
  const ids = placed.map((one) => linesIn(ink, one));
  if (ids.includes(undefined)) writeSettings(ink, placed, frame);
  else placed.forEach(({ box }, i) => void writeCellId(ink, ids[i] ?? [], box));
}

/** The lines on which an id fits into its cell; undefined when it does not. */
function linesIn(ink: Ink, { cell: { id }, box }: OnPaper): string[] | undefined {
  const fits = (text: string): boolean => ink.widthOf(text, ID_STYLE) < box.maxX - box.minX - 0.2;
  if (fits(id)) return [id];
  const cut = id.lastIndexOf('S');
  const lines = [id.slice(0, cut), id.slice(cut)];
  return cut > 0 && lines.every(fits) && 2 * HEIGHT_MM < box.maxY - box.minY ? lines : undefined;
}

function writeCellId(ink: Ink, lines: readonly string[], box: Box): void {
  lines.forEach((text, i) => {
    const y = (box.minY + box.maxY) / 2 - TO_BASE_MM + ((lines.length - 1) / 2 - i) * HEIGHT_MM;
    ink.text(text, [(box.minX + box.maxX) / 2, y], ID_STYLE);
  });
}

/** Powers left of the frame, speeds below it; as many as have room. */
function writeSettings(ink: Ink, placed: readonly OnPaper[], frame: Box): void {
  const rows = new Map(placed.map(({ cell, box }) => [cell.powerPercent, (box.minY + box.maxY) / 2]));
  const columns = new Map(placed.map(({ cell, box }) => [cell.speedMmS, (box.minX + box.maxX) / 2]));
  let last = Number.NEGATIVE_INFINITY;
  for (const [power, y] of [...rows].sort((p, q) => p[1] - q[1])) {
    if (y - last < HEIGHT_MM) continue;
    ink.text(`P${power}`, [frame.minX - 0.8, y - TO_BASE_MM], { ...ID_STYLE, align: 'right' });
    last = y;
  }
  last = Number.NEGATIVE_INFINITY;
  for (const [speed, x] of [...columns].sort((p, q) => p[1] - q[1])) {
    const half = ink.widthOf(`S${speed}`, ID_STYLE) / 2 + 0.4;
    if (x - half < last) continue;
    ink.text(`S${speed}`, [x, frame.minY - HEIGHT_MM - 0.2], ID_STYLE);
    last = x + half;
  }
}

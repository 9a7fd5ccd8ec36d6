import { InputError } from '../errors.js';
import { boxRing } from '../geometry/shapes.js';
import type { Box, Point } from '../geometry/types.js';
import { type Axis, courseAlong, tidyMm } from './dot-grid.js';
import type { DimensionalFeature } from './features.js';
import type { Laying } from './laying.js';
import type { RulerElement } from './pattern.js';
import { type CouponSheet, edgeWords } from './sheet.js';

/** How far a ruler may step aside to be clear of another one, and in which steps, mm; windows go wherever there is room. */
const MOST_ASIDE_MM = 12;
const STEP_ASIDE_MM = 0.4;

/**
 * Slots square to an axis, and spans between their near edges: those move together when the kerf widens the slots, so a
 * span tells the scale without the kerf. Edges of one side can be sighted but not gripped. So windows for the jaws of a
 * caliper are read twice, from outer edge to outer edge and over the film between: one holds the kerf, the other lacks
 * it, and their mean is free of it.
 */
export function layRuler({ sheet, prefix, key, number: value }: Laying, element: RulerElement): void {
  const { axis } = element;
  const { across, point, box } = courseAlong(axis);
  const { grid } = sheet;
  const at = { x: value(element.at[0], 'at.0'), y: value(element.at[1], 'at.1') };
  const length = value(element.lengthMm, 'lengthMm');
  const width = grid.count(axis, value(element.slotMm[0], 'slotMm.0'));
  const low = grid.dots(across, at[across]);
  const high = low + grid.count(across, value(element.slotMm[1], 'slotMm.1'));
  const start = grid.dots(axis, at[axis]);

  // Spans in order of importance claim their marks; a mark may not crowd an earlier one or its label.
  const name = sheet.nextName();
  const labelled = element.labels !== false;
  const labelMm = labelled ? labelRoom(sheet, `${name}0`, axis) : 0;
  const room = Math.max(grid.mm(axis, width), labelMm) + sheet.clearanceMm;
  const marks: number[] = [];
  const spans: [number, number][] = [];
  element.spans.forEach(([from, to], i) => {
    const ends = [from, to].map((end, k) => start + grid.dots(axis, value(end, `spans.${i}.${k}`, { length })));
    const fresh = ends.filter((end) => !marks.includes(end));
    const crowded =
      ends[1] <= ends[0] ||
      fresh.some((end) =>
        marks.concat(fresh.filter((f) => f !== end)).some((m) => Math.abs(m - end) * grid.pitch(axis) < room),
      );
    if (crowded) return;
    marks.push(...fresh);
    spans.push([ends[0], ends[1]]);
  });
  marks.sort((p, q) => p - q);

  const plan = (shift: number): PlannedMark[] =>
    marks.map((mark, i) => {
      const dots = box([mark, low + shift], [mark + width, high + shift]);
      return { dots, text: labelled ? `${name}${i}` : '' };
    });
  const count = across === 'x' ? grid.columns : grid.rows;
  const mostMm = element.jaws ? grid.mm(across, count) : MOST_ASIDE_MM;
  const middleAt = (shift: number): number => Math.round((low + high) / 2) + shift;
  /** Film from a window to the next. */
  const lines = (shift: number): Box[] =>
    marks.slice(1).map((mark, i) => {
      const [from, to, at] = [grid.mm(axis, marks[i] + width), grid.mm(axis, mark), grid.mm(across, middleAt(shift))];
      return box([from + sheet.clearanceMm, at], [to - sheet.clearanceMm, at]);
    });
  const fits = (shift: number): boolean =>
    isClear(sheet, axis, plan(shift), element.jaws === true) && (!element.jaws || lines(shift).every(sheet.isFilm));
  const shift = shiftsTo(mostMm, sheet, across).find(fits);
  if (shift === undefined) {
    throw new InputError({
      code: 'COUPON_CROWDED',
      place: { key },
      message: `there is no room for the ruler ${name} near ${across} = ${at[across].toFixed(1)} mm.`,
      hint: 'Use a larger bed, or move it in the pattern.',
    });
  }
  for (const { dots, text } of plan(shift)) {
    const mm = sheet.addRectangle(dots, sheet.newGroup());
    if (text !== '') sheet.addText(text, labelAt(sheet, axis, mm, element.jaws === true));
  }
  if (element.jaws) lines(shift).forEach(sheet.keepFilm);
  const middle = grid.mm(across, middleAt(shift));
  const end = (dots: number): [number, number] => point(grid.mm(axis, dots), middle);
  for (const [from, to] of spans) {
    const [i, j] = [marks.indexOf(from), marks.indexOf(to)];
    const add = (ending: string, kind: Kind, first: number, last: number): void => {
      const nominalMm = tidyMm(grid.mm(axis, last) - grid.mm(axis, first));
      const say = `${spanWords(axis, kind, [`${name}${i}`, `${name}${j}`])}, about ${nominalMm.toFixed(2)} mm.`;
      const how = kind === 'span' ? { side: 'near' as const } : { by: 'jaws' as const };
      const id = `${prefix}${name}${i}-${j}${ending}`;
      sheet.features.push({ id, kind, from: end(first), to: end(last), nominalMm, ...how, say });
    };
    if (!element.jaws) add('', 'span', from, to);
    else {
      add('in', 'opening', from, to + width);
      add('out', 'web', from + width, to);
    }
  }
}

type Kind = DimensionalFeature['kind'];

function spanWords(axis: Axis, kind: Kind, [first, second]: readonly string[]): string {
  const { near, far } = edgeWords(axis);
  const along = `along ${axis.toUpperCase()}`;
  if (kind === 'opening')
    return `Inside jaws of a caliper, spread ${along}: from the ${near} edge of window ${first} to the ${far} edge of window ${second}`;
  if (kind === 'web')
    return `Outside jaws of a caliper, closed ${along} over the film between: from the ${far} edge of window ${first} to the ${near} edge of window ${second}`;
  return `From the ${near} edge of slot ${first} to the ${near} edge of slot ${second}, ${along}`;
}

interface PlannedMark {
  readonly dots: Box;
  readonly text: string;
}

/** Below a slot that stands upright, above one that lies; beside a window, for jaws close over the film above it. */
function labelAt(sheet: CouponSheet, axis: Axis, mark: Box, isWindow: boolean): Point {
  const gap = sheet.clearanceMm + 0.1;
  if (isWindow && axis === 'y') return [mark.maxX + gap, mark.minY];
  return axis === 'x' ? [mark.minX, mark.minY - gap - sheet.letteringMm] : [mark.minX, mark.maxY + gap];
}

function isClear(sheet: CouponSheet, axis: Axis, marks: readonly PlannedMark[], isWindow: boolean): boolean {
  const { grid } = sheet;
  return marks.every(({ dots, text }) => {
    const mark = grid.boxMm(dots);
    if (!sheet.isFree(boxRing(mark), 0)) return false;
    return text === '' || sheet.isFree(boxRing(sheet.textBox(text, labelAt(sheet, axis, mark, isWindow))), 0);
  });
}

/** How far, in dots, a ruler may step aside across its axis, nearest first. */
function shiftsTo(mostMm: number, { grid }: CouponSheet, across: Axis): number[] {
  const steps = Array.from({ length: Math.ceil(mostMm / STEP_ASIDE_MM) + 1 }, (_, step) => step * STEP_ASIDE_MM);
  return steps
    .filter((mm) => mm <= mostMm)
    .map((mm) => grid.dots(across, mm))
    .flatMap((dots) => [dots, -dots]);
}

/** Room that a label takes along the ruler: it starts at the slot's near edge along X, and follows the slot along Y. */
function labelRoom(sheet: CouponSheet, text: string, axis: 'x' | 'y'): number {
  const box = sheet.textBox(text, [0, 0]);
  return axis === 'x' ? box.maxX : 1.5 * sheet.letteringMm + 2 * sheet.clearanceMm;
}

import { InputError } from '../errors.js';
import { rectangle } from '../geometry/shapes.js';
import type { Box, Point, Ring } from '../geometry/types.js';
import { type Axis, tidyMm } from './dot-grid.js';
import type { Evaluator, Scope } from './expression.js';
import type { RulerElement } from './pattern.js';
import { edgeWords, type Sheet } from './sheet.js';

/** How far a ruler may step aside to be clear of another one, and in which steps, mm. */
const MOST_ASIDE_MM = 12;
const STEP_ASIDE_MM = 0.4;

/**
 * Slots square to an axis, and spans between their near edges: those move together when the kerf widens the slots, so a
 * span tells the scale without the kerf.
 */
export function layRuler(
  sheet: Sheet,
  element: RulerElement,
  evaluator: Evaluator,
  scope: Scope,
  key: string,
  prefix: string,
): void {
  const { axis } = element;
  const across = axis === 'x' ? 'y' : 'x';
  const { grid } = sheet;
  const value = (expression: number | string, name: string, extra: Scope = {}): number =>
    evaluator.number(expression, { ...scope, ...extra }, `${key}.${name}`);
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

  const plan = (shift: number): PlannedMark[] => {
    const [from, to] = [low + shift, high + shift];
    return marks.map((mark, i) => {
      const dots =
        axis === 'x'
          ? { minX: mark, maxX: mark + width, minY: from, maxY: to }
          : { minX: from, maxX: to, minY: mark, maxY: mark + width };
      return { dots, text: labelled ? `${name}${i}` : '' };
    });
  };
  const shift = freeShift(sheet, axis, across, plan);
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
    if (text !== '') sheet.addText(text, labelAt(sheet, axis, mm));
  }
  const middle = Math.round((low + high) / 2) + shift;
  const { near } = edgeWords(axis);
  const point = (dots: number): [number, number] =>
    axis === 'x' ? [grid.mm('x', dots), grid.mm('y', middle)] : [grid.mm('x', middle), grid.mm('y', dots)];
  for (const [from, to] of spans) {
    const [i, j] = [marks.indexOf(from), marks.indexOf(to)];
    const nominalMm = tidyMm(point(to)[axis === 'x' ? 0 : 1] - point(from)[axis === 'x' ? 0 : 1]);
    sheet.features.push({
      id: `${prefix}${name}${i}-${j}`,
      kind: 'span',
      from: point(from),
      to: point(to),
      nominalMm,
      side: 'near',
      say: `From the ${near} edge of slot ${name}${i} to the ${near} edge of slot ${name}${j}, along ${axis.toUpperCase()}, about ${nominalMm.toFixed(2)} mm.`,
    });
  }
}

interface PlannedMark {
  readonly dots: Box;
  readonly text: string;
}

/** Below a slot that stands upright, above one that lies. */
function labelAt(sheet: Sheet, axis: Axis, mark: Box): Point {
  const gap = sheet.clearanceMm + 0.1;
  return axis === 'x' ? [mark.minX, mark.minY - gap - sheet.letteringMm] : [mark.minX, mark.maxY + gap];
}

/** How far, in dots, a ruler must step aside across its axis to be clear of what is there; undefined when it can't. */
function freeShift(sheet: Sheet, axis: Axis, across: Axis, plan: (shift: number) => PlannedMark[]): number | undefined {
  const { grid } = sheet;
  const ring = ({ minX, minY, maxX, maxY }: Box): Ring => rectangle(minX, minY, maxX, maxY);
  const fits = (shift: number): boolean =>
    plan(shift).every(({ dots, text }) => {
      const mark = {
        minX: grid.mm('x', dots.minX),
        minY: grid.mm('y', dots.minY),
        maxX: grid.mm('x', dots.maxX),
        maxY: grid.mm('y', dots.maxY),
      };
      if (!sheet.isFree(ring(mark), 0)) return false;
      return text === '' || sheet.isFree(ring(sheet.textBox(text, labelAt(sheet, axis, mark))), 0);
    });
  for (let step = 0; step * STEP_ASIDE_MM <= MOST_ASIDE_MM; step += 1) {
    const dots = grid.dots(across, step * STEP_ASIDE_MM);
    for (const shift of step === 0 ? [0] : [dots, -dots]) if (fits(shift)) return shift;
  }
  return undefined;
}

/** Room that a label takes along the ruler: it starts at the slot's near edge along X, and follows the slot along Y. */
function labelRoom(sheet: Sheet, text: string, axis: 'x' | 'y'): number {
  const box = sheet.textBox(text, [0, 0]);
  return axis === 'x' ? box.maxX : 1.5 * sheet.letteringMm + 2 * sheet.clearanceMm;
}

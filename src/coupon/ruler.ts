import { tidyMm } from './dot-grid.js';
import type { Evaluator, Scope } from './expression.js';
import type { RulerElement } from './pattern.js';
import { edgeWords, type Sheet } from './sheet.js';

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

  const middle = Math.round((low + high) / 2);
  for (const [i, mark] of marks.entries()) {
    const box =
      axis === 'x'
        ? { minX: mark, maxX: mark + width, minY: low, maxY: high }
        : { minX: low, maxX: high, minY: mark, maxY: mark + width };
    const mm = sheet.addRectangle(box, sheet.newGroup());
    if (labelled) {
      const gap = sheet.clearanceMm + 0.1;
      sheet.addText(
        `${name}${i}`,
        axis === 'x' ? [mm.minX, mm.minY - gap - sheet.letteringMm] : [mm.minX, mm.maxY + gap],
      );
    }
  }
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

/** Room that a label takes along the ruler: it starts at the slot's near edge along X, and follows the slot along Y. */
function labelRoom(sheet: Sheet, text: string, axis: 'x' | 'y'): number {
  const box = sheet.textBox(text, [0, 0]);
  return axis === 'x' ? box.maxX : 1.5 * sheet.letteringMm + 2 * sheet.clearanceMm;
}

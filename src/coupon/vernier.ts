import { joinBoxes } from '../geometry/bounds.js';
import type { Box } from '../geometry/types.js';
import { type Axis, courseAlong } from './dot-grid.js';
import type { VernierFeature } from './features.js';
import { type Laying, placeBlock } from './laying.js';
import type { VernierElement } from './pattern.js';
import { type CouponSheet, edgeWords } from './sheet.js';

const SLOT_MM = 0.5;
/** Film between two slots of a comb. */
const RIB_MM = 0.7;
const KERF_COMB_MM = 2;
const ROW_COMB_MM = 1.5;
/** Film between the two combs: the eye must carry a line across it, and the kerf must leave some of it. */
const BETWEEN_MM = 0.5;
const LEAST_LINES = 11;

/** A vernier in whole dots along its axis. */
type Comb = ReturnType<typeof planComb>;

/**
 * Two combs, read by the line that runs straight from one into the other. Let P be the pitch of the upper comb and
 * P + d that of the lower one, d = `stepMm`, P = n d; lines count from 1, z = `zeroLine`, and the lower edge of line k is
 * told to lie (k - z) d to the right of the upper edge of line k.
 *
 * Kerf: the upper edge is the RIGHT edge of its slot and moves right by kerf/2 when it is burnt; the lower edge is the
 * LEFT edge of its slot and moves left by kerf/2. What is left between them is (k - z) d - kerf, so the two are in
 * line where kerf = (k - z) d.
 *
 * Row shift: both are LEFT edges, so the kerf moves both alike and drops out. The upper comb is burnt in every second
 * row of dots only, the lower comb in the rows between. A machine that burns to and fro shifts the two sets of rows
 * against each other by b; the edges are in line where (k - z) d = b, with b > 0 when the upper comb went to the right.
 * Bars on both sides are burnt in all rows: a machine that skips empty rows would otherwise burn every row of one comb
 * in the same direction or in turn, and nothing could be read. In both cases a scale other than 1 scales d as well.
 */
export function layVernier(on: Laying, element: VernierElement): void {
  const { sheet, prefix, number } = on;
  const { axis, measures } = element;
  const { grid } = sheet;
  const comb = planComb(sheet, element, number(element.stepMm, 'stepMm'), number(element.rangeMm, 'rangeMm'));
  const p = grid.pitch(axis);
  const { across, turnDeg, point, box } = courseAlong(axis);
  const name = sheet.nextName();
  const gap = sheet.clearanceMm + 0.1;
  const head = sheet.textLength(name, axis) + gap;
  const bar = measures === 'row-shift' ? SLOT_MM + RIB_MM + comb.step * comb.lines * p : 0;
  const reach = ((comb.lines - 1) * (comb.pitch + comb.step) + 2 * comb.slot + comb.step * comb.lines) * p;
  const lengthMm = head + reach + 2 * bar;
  const combMm = measures === 'kerf' ? KERF_COMB_MM : ROW_COMB_MM;
  const thicknessMm = 2 * combMm + BETWEEN_MM + gap + sheet.letteringMm;
  const [widthMm, heightMm] = point(lengthMm, thicknessMm);
  const at = point(...placeBlock(on, element.place, { widthMm, heightMm }));

  // s runs along the axis, t across it and away from the labels' side; turned by 90 degrees t runs to the left.
  const s0 = at[0];
  const t0 = axis === 'x' ? at[1] : at[1] + thicknessMm;
  const t = (mm: number): number => grid.dots(across, axis === 'x' ? t0 + mm : t0 - mm);
  const write = (words: string, s: number, tMm: number): void =>
    void sheet.addText(words, point(s, axis === 'x' ? t0 + tMm : t0 - tMm - sheet.letteringMm), { turnDeg });
  const lower = [t(0), t(combMm)] as const;
  const upper = [t(combMm + BETWEEN_MM), t(2 * combMm + BETWEEN_MM)] as const;
  const group = sheet.newGroup();
  const first = grid.dots(axis, s0 + head + bar) + comb.slot + comb.step * comb.zeroLine;
  const burnt: Box[] = [];
  const burn = (from: number, to: number, [ta, tb]: readonly [number, number], parity?: number): void => {
    const [low, high] = [Math.min(ta, tb), Math.max(ta, tb)];
    const add = (ts: number, te: number) => burnt.push(sheet.addRectangle(box([from, ts], [to, te]), group));
    if (parity === undefined) add(low, high);
    else for (let row = low; row < high; row += 1) if (Math.abs(row % 2) === parity) add(row, row + 1);
  };
  for (let k = 1; k <= comb.lines; k += 1) {
    const edge = first + (k - 1) * comb.pitch;
    const other = edge + (k - comb.zeroLine) * comb.step;
    if (measures === 'kerf') {
      burn(edge - comb.slot, edge, upper);
      burn(other, other + comb.slot, lower);
    } else {
      burn(edge, edge + comb.slot, upper, 0);
      burn(other, other + comb.slot, lower, 1);
    }
    if (k === 1 || k % 5 === 0) {
      const centre = (edge + (measures === 'kerf' ? -1 : 1) * (comb.slot / 2)) * p;
      write(`${k}`, centre - sheet.textLength(`${k}`, axis) / 2, 2 * combMm + BETWEEN_MM + gap);
    }
  }
  if (measures === 'row-shift') {
    const [all0, all1] = [t(0), t(2 * combMm + BETWEEN_MM)];
    const clear = grid.count(axis, RIB_MM) + comb.step * comb.zeroLine;
    const slot = grid.count(axis, SLOT_MM);
    const last = first + (comb.lines - 1) * (comb.pitch + comb.step) + comb.slot;
    burn(first - clear - slot, first - clear, [all0, all1]);
    burn(last + clear, last + clear + slot, [all0, all1]);
  }
  write(name, s0, combMm + BETWEEN_MM / 2 - sheet.letteringMm / 2);
  const { minX, minY, maxX, maxY } = burnt.reduce(joinBoxes);
  sheet.features.push({
    id: `${prefix}${name}`,
    kind: 'vernier',
    measures,
    axis,
    lines: comb.lines,
    zeroLine: comb.zeroLine,
    stepMm: grid.mm(axis, comb.step),
    box: [minX, minY, maxX, maxY],
    say: sentence(name, measures, axis, comb),
  });
}

function planComb(sheet: CouponSheet, { axis, measures }: VernierElement, stepMm: number, rangeMm: number) {
  const { grid } = sheet;
  const step = grid.count(axis, stepMm);
  const steps = Math.ceil(rangeMm / grid.mm(axis, step) - 1e-9);
  const lines = measures === 'kerf' ? Math.max(LEAST_LINES, steps + 1) : 2 * Math.max((LEAST_LINES - 1) / 2, steps) + 1;
  return {
    step,
    pitch: step * Math.ceil((SLOT_MM + RIB_MM) / grid.mm(axis, step)),
    slot: grid.count(axis, SLOT_MM),
    lines,
    zeroLine: measures === 'kerf' ? 1 : (lines + 1) / 2,
  };
}

function sentence(name: string, measures: VernierFeature['measures'], axis: Axis, { lines, zeroLine }: Comb): string {
  const { near, far } = edgeWords(axis);
  const [one, other] = axis === 'x' ? ['upper', 'lower'] : ['left', 'right'];
  const edges =
    measures === 'kerf'
      ? `${far} edge of the ${one} slot and the ${near} edge of the ${other} slot`
      : `${near} edges of the ${one} and the ${other} slot`;
  return `Vernier ${name}: at which line (1 to ${lines}, counted from the letter) do the ${edges} lie on one straight line? Halves allowed; line ${zeroLine} is zero.`;
}

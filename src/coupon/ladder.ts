import { dotRegion } from '../dots/dot-regions.js';
import { InputError } from '../errors.js';
import type { Point, Ring } from '../geometry/types.js';
import { type Axis, courseAlong, tidyMm } from './dot-grid.js';
import type { DimensionalFeature } from './features.js';
import { type Laying, placeBlock } from './laying.js';
import type { LadderElement, LadderRow } from './pattern.js';
import { edgeWords } from './sheet.js';

/** Rows along X above those along Y, or beside them. */
export type BlockShape = 'tall' | 'wide';

type LadderSizes = ReturnType<typeof sizesOf>;

/** One row with its sizes in whole dots along its axis. */
type PlannedRow = ReturnType<typeof planRow>;

function sizesOf({ number }: Laying, element: LadderElement) {
  return {
    slotLength: number(element.slotLengthMm, 'slotLengthMm'),
    webSide: number(element.webSideMm ?? 0.8, 'webSideMm'),
    gap: number(element.gapMm ?? 1.8, 'gapMm'),
    rowGap: number(element.rowGapMm ?? 1.6, 'rowGapMm'),
    labels: element.labels !== false,
  };
}

/**
 * Lays one block of rows where the pattern wants it in the room that is left on the canvas: rows along X above, rows along Y below (`tall`) or to the right (`wide`).
 * Openings have wide film on both sides; each web stands between two openings of its own, so a web that burns away
 * spoils nothing else.
 */
export function layLadder(on: Laying, element: LadderElement, shape: BlockShape): void {
  const sizes = sizesOf(on, element);
  const planned = element.rows.map((row, i) => {
    const wanted = row.sizesMm.map((size, k) => on.number(size, `rows.${i}.sizesMm.${k}`));
    return planRow(on, row, wanted, sizes);
  });
  const along = (axis: Axis): PlannedRow[] => planned.filter((item) => item.row.axis === axis);
  const measure = (rows: readonly PlannedRow[]): [number, number] => [
    Math.max(0, ...rows.map((item) => item.lengthMm)),
    rows.reduce((sum, item) => sum + item.thicknessMm + sizes.rowGap, rows.length > 0 ? -sizes.rowGap : 0),
  ];
  const [xLength, xThickness] = measure(along('x'));
  const [yLength, yThickness] = measure(along('y'));
  const between = xThickness > 0 && yThickness > 0 ? sizes.rowGap + 0.5 : 0;
  const [widthMm, heightMm] =
    shape === 'tall'
      ? [Math.max(xLength, yThickness), xThickness + between + yLength]
      : [xLength + between + yThickness, Math.max(xThickness, yLength)];
  const [x, y] = placeBlock(on, element.place, { widthMm, heightMm });
  let top = y + (shape === 'tall' ? heightMm : Math.max(xThickness, yLength));
  for (const item of along('x')) {
    layRow(on, item, [x, top - item.thicknessMm]);
    top -= item.thicknessMm + sizes.rowGap;
  }
  let left = shape === 'tall' ? x : x + xLength + between;
  const base = shape === 'tall' ? y : y + heightMm - yLength;
  for (const item of along('y')) {
    layRow(on, item, [left, base]);
    left += item.thicknessMm + sizes.rowGap;
  }
}

function planRow({ sheet }: Laying, row: LadderRow, wantedMm: readonly number[], sizes: LadderSizes) {
  const { grid, clearanceMm, letteringMm } = sheet;
  const { axis, measures } = row;
  const { labels } = sizes;
  const pitch = grid.pitch(axis);
  const smallest = Math.min(...wantedMm);
  // Webs may be rounded up to one dot: the next sizes still tell where film stops standing.
  if (measures !== 'web' && smallest < pitch * (1 - 1e-6)) {
    throw new InputError({
      code: 'PITCH_TOO_COARSE',
      message: `the smallest opening of ${smallest} mm is finer than one dot of ${pitch} mm along ${axis.toUpperCase()}.`,
      hint: `Give a pitch of ${smallest} mm or finer (at least ${Math.ceil(25.4 / smallest)} dots per inch), or a pattern without such small openings.`,
    });
  }
  const dots = [...new Set(wantedMm.map((size) => grid.count(axis, size)))];
  if (dots.length < wantedMm.length) {
    sheet.warn({
      code: 'SIZES_MERGED',
      message: `some sizes along ${axis.toUpperCase()} fall together, because the pitch of ${pitch} mm can't tell them apart.`,
      hint: 'A finer pitch gives more steps.',
    });
  }
  /** Room for the row's letter before its first item, and for the numbers beside the items. */
  const nameMm = labels ? sheet.textLength('M', axis) + clearanceMm + 0.2 : 0;
  const numbersMm = labels ? clearanceMm + 0.1 + letteringMm : 0;
  // Numbers of neighbouring items need a gap, however narrow the items are.
  const numberMm = sheet.textBox(`${dots.length > 10 ? 88 : 8}`, [0, 0]).maxX + clearanceMm;
  const gapMm = Math.max(sizes.gap, labels ? numberMm : 0);
  const sideMm = measures === 'web' ? sizes.webSide : 0;
  const lengths = dots.map((count) => count * pitch + 2 * sideMm);
  const bodyMm = isRound(row) ? Math.max(...dots) * pitch : sizes.slotLength;
  return {
    ...{ row, name: sheet.nextName(), labels, nameMm, numbersMm, gapMm, sideMm, bodyMm },
    items: dots.map((count, i) => ({ count, lengthMm: lengths[i] })),
    lengthMm: nameMm + lengths.reduce((sum, length) => sum + length + gapMm, -gapMm),
    thicknessMm: bodyMm + numbersMm,
  };
}

/** As wide as tall. */
function isRound(row: LadderRow): row is LadderRow & { readonly measures: 'square' | 'circle' } {
  return row.measures === 'square' || row.measures === 'circle';
}

/** Puts one row with its lower left corner at `at`. Along Y it is turned by 90 degrees, so that it reads upwards. */
function layRow(on: Laying, planned: PlannedRow, at: Point): void {
  const { row, name, labels, bodyMm } = planned;
  const { sheet } = on;
  const { turnDeg, point } = courseAlong(row.axis);
  const [start, base] = point(...at);
  // Items stand on the base line; turned by 90 degrees the base line is on the right.
  const low = row.axis === 'x' ? base : base + planned.numbersMm;
  const numbersAt = row.axis === 'x' ? low + bodyMm + sheet.clearanceMm + 0.1 : base;
  if (labels) sheet.addText(name, point(start, low + (bodyMm - sheet.letteringMm) / 2), { turnDeg });
  let s = start + planned.nameMm;
  planned.items.forEach(({ count, lengthMm }, i) => {
    layItem(on, planned, `${name}${i}`, count, [s, low]);
    if (labels) {
      const digit = sheet.textBox(`${i}`, [0, 0]).maxX;
      sheet.addText(`${i}`, point(s + lengthMm / 2 - digit / 2, numbersAt), { turnDeg });
    }
    s += lengthMm + planned.gapMm;
  });
}

/** @param at - along the row and across it, mm */
function layItem({ sheet, prefix }: Laying, planned: PlannedRow, where: string, count: number, at: Point): void {
  const { row, sideMm, bodyMm } = planned;
  const { axis, measures } = row;
  const { grid } = sheet;
  const { across, point, box } = courseAlong(axis);
  const group = sheet.newGroup();
  const near = grid.dots(axis, at[0]);
  const [low, high] = [grid.dots(across, at[1]), grid.dots(across, at[1] + bodyMm)];
  const slot = (from: number, to: number, top = high): void =>
    void sheet.addRectangle(box([from, low], [to, top]), group);
  // Squares and circles keep their shape in mm although the dots may not be square.
  const tall = grid.count(across, count * grid.pitch(axis));
  const side = measures === 'web' ? grid.count(axis, sideMm) : 0;
  const [from, to] = [near + side, near + side + count];
  if (measures === 'web') {
    slot(near, from);
    slot(to, to + side);
  } else if (measures === 'circle') {
    const ring = dottedEllipse(count, tall).map(([s, t]) => point(near + s, low + t));
    sheet.addRing(ring, group);
  } else slot(from, to, measures === 'square' ? low + tall : high);
  const add = (id: string, along: Axis, s0: number, s1: number, t: number): void => {
    const course = courseAlong(along);
    const end = (s: number): [number, number] => course.point(grid.mm(along, s), grid.mm(course.across, t));
    const nominalMm = tidyMm(grid.mm(along, s1) - grid.mm(along, s0));
    sheet.features.push({
      id,
      kind: measures === 'web' ? 'web' : 'opening',
      from: end(s0),
      to: end(s1),
      nominalMm,
      ...(isRound(row) ? { shape: row.measures } : {}),
      say: sentence({ ...row, axis: along }, where, nominalMm),
    } satisfies DimensionalFeature);
  };
  add(`${prefix}${where}`, axis, from, to, isRound(row) ? low + tall / 2 : Math.round((low + high) / 2));
  // A square or circle is as wide both ways: one more reading of a pad's shape without one more cut.
  if (isRound(row)) add(`${prefix}${where}${across.toUpperCase()}`, across, low, low + tall, (from + to) / 2);
}

function sentence({ axis, measures }: LadderRow, where: string, nominalMm: number): string {
  const { near, far } = edgeWords(axis);
  const size = `about ${nominalMm.toFixed(2)} mm`;
  if (measures === 'web') {
    return `Web ${where}, width along ${axis.toUpperCase()}: film between the two openings, from its ${near} to its ${far} edge, ${size}; "gone" if it burnt away.`;
  }
  const what = measures === 'opening' ? 'Slot' : measures === 'square' ? 'Square' : 'Circle';
  return `${what} ${where}, width along ${axis.toUpperCase()}: from its ${near} edge to its ${far} edge, ${size}; "closed" if it is not through.`;
}

/**
 * The dots whose centres lie in an ellipse that touches all four sides of a width x height block of dots, as a ring.
 * At least two dots wide at its extremes where the block has an even number of dots, so that a reading across the middle meets both edges.
 */
function dottedEllipse(width: number, height: number): Ring {
  const columns = Array.from({ length: width }, (_, column) => {
    const x = (2 * (column + 0.5)) / width - 1;
    const half = (Math.sqrt(Math.max(0, 1 - x * x)) * height) / 2;
    let low = Math.ceil(height / 2 - half - 0.5);
    let high = Math.floor(height / 2 + half - 0.5) + 1;
    if (high <= low) [low, high] = [Math.floor((height - 1) / 2), Math.ceil((height + 1) / 2)];
    return [low, high];
  });
  return dotRegion(columns, ([y, x]) => [x, y]).outer;
}

import { dotRegion } from '../dots/dot-regions.js';
import { InputError } from '../errors.js';
import type { Point, Ring } from '../geometry/types.js';
import { type Axis, courseAlong, tidyMm } from './dot-grid.js';
import type { DimensionalFeature } from './features.js';
import { type Laying, placeBlock } from './laying.js';
import type { Expression, LadderElement, LadderRow } from './pattern.js';
import { type CouponSheet, edgeWords } from './sheet.js';

/** Rows along X above those along Y, or beside them. */
export type BlockShape = 'tall' | 'wide';

type LadderSizes = ReturnType<typeof sizesOf>;

/** One row with its sizes in whole dots along its axis. */
type PlannedRow = ReturnType<typeof planRow>;

function sizesOf({ number }: Laying, element: LadderElement) {
  const value = (expression: Expression | undefined, fallback: number, name: string): number =>
    expression === undefined ? fallback : number(expression, name);
  return {
    slotLength: value(element.slotLengthMm, 4, 'slotLengthMm'),
    webSide: value(element.webSideMm, 0.8, 'webSideMm'),
    gap: value(element.gapMm, 1.8, 'gapMm'),
    rowGap: value(element.rowGapMm, 1.6, 'rowGapMm'),
    labels: element.labels !== false,
  };
}

/**
 * Lays one block of rows where the pattern wants it in the room that is left on the canvas: rows along X above, rows along Y below (`tall`) or to the right (`wide`).
 * Openings have wide film on both sides; each web stands between two openings of its own, so a web that burns away
 * spoils nothing else.
 */
export function layLadder(on: Laying, element: LadderElement, shape: BlockShape): void {
  const { sheet, prefix, number } = on;
  const sizes = sizesOf(on, element);
  const planned = element.rows.map((row, i) => {
    const wanted = row.sizesMm.map((size, k) => number(size, `rows.${i}.sizesMm.${k}`));
    return planRow(sheet, row, wanted, sizes);
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
    layRow(sheet, item, [x, top - item.thicknessMm], sizes, prefix);
    top -= item.thicknessMm + sizes.rowGap;
  }
  let left = shape === 'tall' ? x : x + xLength + between;
  const base = shape === 'tall' ? y : y + heightMm - yLength;
  for (const item of along('y')) {
    layRow(sheet, item, [left, base], sizes, prefix);
    left += item.thicknessMm + sizes.rowGap;
  }
}

function planRow(sheet: CouponSheet, row: LadderRow, wantedMm: readonly number[], sizes: LadderSizes) {
  const { grid } = sheet;
  refuseCoarsePitch(sheet, row, wantedMm);
  const dots = [...new Set(wantedMm.map((size) => grid.count(row.axis, size)))];
  if (dots.length < wantedMm.length) {
    sheet.warn({
      code: 'SIZES_MERGED',
      message: `some sizes along ${row.axis.toUpperCase()} fall together, because the pitch of ${grid.pitch(row.axis)} mm can't tell them apart.`,
      hint: 'A finer pitch gives more steps.',
    });
  }
  const head = sizes.labels ? nameRoom(sheet, row.axis) : 0;
  const gapMm = Math.max(sizes.gap, sizes.labels ? numberGap(sheet, dots.length) : 0);
  const items = dots.reduce((sum, count) => sum + itemMm(sheet, row, count, sizes) + gapMm, -gapMm);
  const name = sheet.nextName();
  return {
    row,
    name,
    sizes: dots,
    gapMm,
    lengthMm: head + items,
    thicknessMm: itemThickness(row, Math.max(...dots) * grid.pitch(row.axis), sizes) + numberRoom(sheet, sizes),
  };
}

function refuseCoarsePitch(sheet: CouponSheet, row: LadderRow, wantedMm: readonly number[]): void {
  const pitch = sheet.grid.pitch(row.axis);
  const smallest = Math.min(...wantedMm);
  // Webs may be rounded up to one dot: the next sizes still tell where film stops standing.
  if (row.measures === 'web' || smallest >= pitch * (1 - 1e-6)) return;
  throw new InputError({
    code: 'PITCH_TOO_COARSE',
    message: `the smallest opening of ${smallest} mm is finer than one dot of ${pitch} mm along ${row.axis.toUpperCase()}.`,
    hint: `Give a pitch of ${smallest} mm or finer (at least ${Math.ceil(25.4 / smallest)} dots per inch), or a pattern without such small openings.`,
  });
}

const numberRoom = (sheet: CouponSheet, sizes: LadderSizes): number =>
  sizes.labels ? sheet.clearanceMm + 0.1 + sheet.letteringMm : 0;

/** Gap that the numbers of neighbouring items need, however narrow the items are. */
const numberGap = (sheet: CouponSheet, count: number): number =>
  sheet.textBox(`${count > 10 ? 88 : 8}`, [0, 0]).maxX + sheet.clearanceMm;

/** Room for the row's letter before its first item. */
function nameRoom(sheet: CouponSheet, axis: Axis): number {
  return sheet.textLength('M', axis) + sheet.clearanceMm + 0.2;
}

function itemMm(sheet: CouponSheet, row: LadderRow, dots: number, sizes: LadderSizes): number {
  const own = dots * sheet.grid.pitch(row.axis);
  return row.measures === 'web' ? own + 2 * sizes.webSide : own;
}

const itemThickness = (row: LadderRow, largestMm: number, sizes: LadderSizes): number =>
  isRound(row) ? largestMm : sizes.slotLength;

/** As wide as tall. */
function isRound(row: LadderRow): row is LadderRow & { readonly measures: 'square' | 'circle' } {
  return row.measures === 'square' || row.measures === 'circle';
}

/** Puts one row with its lower left corner at `at`. Along Y it is turned by 90 degrees, so that it reads upwards. */
function layRow(sheet: CouponSheet, planned: PlannedRow, at: Point, sizes: LadderSizes, prefix: string): void {
  const { row, name } = planned;
  const { axis } = row;
  const { across, turnDeg, point } = courseAlong(axis);
  const { grid } = sheet;
  const [start, base] = point(...at);
  const body = planned.thicknessMm - numberRoom(sheet, sizes);
  // Items stand on the base line; turned by 90 degrees the base line is on the right.
  const low = axis === 'x' ? base : base + numberRoom(sheet, sizes);
  const high = low + body;
  const numbersAt = axis === 'x' ? high + sheet.clearanceMm + 0.1 : base;
  if (sizes.labels) sheet.addText(name, point(start, low + (body - sheet.letteringMm) / 2), { turnDeg });
  let s = start + (sizes.labels ? nameRoom(sheet, axis) : 0);
  planned.sizes.forEach((count, i) => {
    const lengthMm = itemMm(sheet, row, count, sizes);
    const near = grid.dots(axis, s);
    layItem(sheet, row, [prefix, `${name}${i}`], near, count, [grid.dots(across, low), grid.dots(across, high)], sizes);
    if (sizes.labels) {
      const digit = sheet.textBox(`${i}`, [0, 0]).maxX;
      sheet.addText(`${i}`, point(s + lengthMm / 2 - digit / 2, numbersAt), { turnDeg });
    }
    s += lengthMm + planned.gapMm;
  });
}

function layItem(
  sheet: CouponSheet,
  row: LadderRow,
  [prefix, where]: readonly [string, string],
  near: number,
  count: number,
  [low, high]: readonly [number, number],
  sizes: LadderSizes,
): void {
  const { axis } = row;
  const { grid } = sheet;
  const { across, point, box } = courseAlong(axis);
  const group = sheet.newGroup();
  const slot = (from: number, to: number, top = high): void =>
    void sheet.addRectangle(box([from, low], [to, top]), group);
  let [from, to, middle] = [near, near + count, Math.round((low + high) / 2)];
  // Squares and circles keep their shape in mm although the dots may not be square.
  const tall = grid.count(across, count * grid.pitch(axis));
  if (row.measures === 'opening') {
    slot(from, to);
  } else if (row.measures === 'web') {
    const side = grid.count(axis, sizes.webSide);
    from = near + side;
    to = from + count;
    slot(near, from);
    slot(to, to + side);
  } else {
    if (row.measures === 'square') slot(from, to, low + tall);
    else
      sheet.addRing(
        dottedEllipse(count, tall).map(([s, t]) => point(near + s, low + t)),
        group,
      );
    middle = low + tall / 2;
  }
  const add = (id: string, along: Axis, s0: number, s1: number, t: number): void => {
    const course = courseAlong(along);
    const end = (s: number): [number, number] => course.point(grid.mm(along, s), grid.mm(course.across, t));
    const nominalMm = tidyMm(grid.mm(along, s1) - grid.mm(along, s0));
    sheet.features.push({
      id,
      kind: row.measures === 'web' ? 'web' : 'opening',
      from: end(s0),
      to: end(s1),
      nominalMm,
      ...(isRound(row) ? { shape: row.measures } : {}),
      say: sentence({ ...row, axis: along }, where, nominalMm),
    } satisfies DimensionalFeature);
  };
  add(`${prefix}${where}`, axis, from, to, middle);
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

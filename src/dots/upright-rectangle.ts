import { leastArea, mostArea, WIDE_OFF_DOTS } from './aim.js';
import type { PixelShape } from './shape.js';
import { type Stamp, stampFromRows } from './stamp.js';

type PerAxis = { readonly x: number; readonly y: number };

/** Whole dots for an upright rectangle. */
export interface FittedRectangle {
  readonly stamp: Stamp;
  /** Columns and rows, less what they should be, dots. */
  readonly off: PerAxis;
  readonly areaErrorPercent: number;
}

/** Walls that lean by less than this are upright, dots. */
const UPRIGHT_DOTS = 1e-6;
/** The share of a side that may be taken off at each of its ends. */
const MOST_TRIMMED = 1 / 6;

/** Width and height in dots, where a shape is nothing but an upright rectangle. */
export function uprightRectangle({ walls, minX, minY, maxX, maxY }: PixelShape): PerAxis | undefined {
  if (walls.length !== 16) return undefined;
  for (let at = 0; at < walls.length; at += 4) {
    const [x, y] = [Math.abs(walls[at + 2] - walls[at]), Math.abs(walls[at + 3] - walls[at + 1])];
    if (Math.min(x, y) > UPRIGHT_DOTS) return undefined;
  }
  return { x: maxX - minX, y: maxY - minY };
}

/**
 * The number of columns and of rows nearest to what they should be, exactly; what is then too much is taken off the two
 * longer sides at their ends, which changes neither width. Where the nearest burn too little, a column or a row more is
 * taken if with it width and area are right.
 *
 * @param size - dots
 * @param kerf - full widths of the beam, dots
 */
export function rectangleOfDots(size: PerAxis, kerf: PerAxis): FittedRectangle {
  const goal = burntArea(size, kerf);
  const lost = RIGHT_CORNERS_LOSE * kerf.x * kerf.y;
  const [x, y] = [Math.max(1, Math.round(size.x)), Math.max(1, Math.round(size.y))];
  let best = trimmedTo({ x, y }, goal, kerf);
  if (best.area < leastArea(goal, lost, OFF_PERCENT)) {
    const off = (columns: number, rows: number): number => Math.max(columns - size.x, rows - size.y);
    const [more] = [
      [x + 1, y],
      [x, y + 1],
    ]
      .filter(([columns, rows]) => off(columns, rows) <= WIDE_OFF_DOTS)
      .sort((p, q) => off(p[0], p[1]) - off(q[0], q[1]))
      .map(([columns, rows]) => trimmedTo({ x: columns, y: rows }, goal, kerf))
      .filter(({ area }) => area >= leastArea(goal, lost, OFF_PERCENT) && area <= mostArea(goal, lost));
    best = more ?? best;
  }
  return {
    stamp: trimmed(best.x, best.y, best.trim, best.x >= best.y),
    off: { x: best.x - size.x, y: best.y - size.y },
    areaErrorPercent: (100 * (best.area - goal)) / goal,
  };
}

/** So many columns and rows, with as many dots off their longer sides' ends as bring them nearest to an area. */
function trimmedTo({ x, y }: PerAxis, goal: number, kerf: PerAxis) {
  const [long, short, beam] = x >= y ? [x, y, kerf] : [y, x, { x: kerf.y, y: kerf.x }];
  const over = burntArea({ x, y }, kerf) - goal;
  const left = (trim: number): number => over - 4 * lostByTrim(trim, beam);
  const most = short > 2 ? Math.floor(long * MOST_TRIMMED) : 0;
  let trim = 0;
  while (trim < most && Math.abs(left(trim + 1)) < Math.abs(left(trim))) trim += 1;
  return { x, y, trim, area: goal + left(trim) };
}

/** Areas are known exactly here, so a width is not given up before 5 % are nearly lost. */
const OFF_PERCENT = 4.9;

/** What a beam of unit widths leaves at the four corners of a rectangle. */
const RIGHT_CORNERS_LOSE = 1 - Math.PI / 4;

/** Of a rectangle grown by the beam (Steiner's formula), dots squared. */
const burntArea = ({ x, y }: PerAxis, kerf: PerAxis): number =>
  x * y + x * kerf.y + y * kerf.x + (Math.PI / 4) * kerf.x * kerf.y;

/** Rows looked at for the area that is lost at one corner. */
const LOOKS = 64;

/** What the beam leaves when the outermost row ends so many dots earlier, at one corner: the next row's cut reaches up. */
function lostByTrim(trim: number, kerf: PerAxis): number {
  if (trim === 0) return 0;
  const [rx, ry] = [kerf.x / 2, kerf.y / 2];
  const reach = (above: number): number => {
    if (above <= 0) return rx;
    return above >= ry ? Number.NEGATIVE_INFINITY : rx * Math.sqrt(1 - (above / ry) ** 2);
  };
  // From the lower edge of the outermost row up to where the beam reaches no more; x from the end of that row.
  const step = (1 + ry) / LOOKS;
  let lost = 0;
  for (let i = 0; i < LOOKS; i += 1) {
    const above = (i + 0.5) * step;
    const full = reach(above - 1);
    lost += full - Math.max(full - trim, reach(above));
  }
  return lost * step;
}

function trimmed(columns: number, rows: number, trim: number, flat: boolean): Stamp {
  const list = Array.from({ length: rows }, (_, row) => {
    const end = row === 0 || row === rows - 1;
    if (flat) return end ? [trim, columns - trim] : [0, columns];
    return row < trim || row >= rows - trim ? [1, columns - 1] : [0, columns];
  });
  return stampFromRows(list).stamp;
}

import type { PerAxis } from '../geometry/types.js';
import type { PixelShape } from './shape.js';
import { type Stamp, stampFromRows } from './stamp.js';

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
 * longer sides at their ends, which changes neither width.
 *
 * @param size - dots
 * @param kerf - full widths of the beam, dots
 */
export function rectangleOfDots(size: PerAxis, kerf: PerAxis): FittedRectangle {
  const [x, y] = [Math.max(1, Math.round(size.x)), Math.max(1, Math.round(size.y))];
  const flat = x >= y;
  const [long, short, beam] = flat ? [x, y, kerf] : [y, x, { x: kerf.y, y: kerf.x }];
  const goal = burntArea(size, kerf);
  const over = burntArea({ x, y }, kerf) - goal;
  const left = (trim: number): number => over - 4 * lostByTrim(trim, beam);
  const most = short > 2 ? Math.floor(long * MOST_TRIMMED) : 0;
  let trim = 0;
  while (trim < most && Math.abs(left(trim + 1)) < Math.abs(left(trim))) trim += 1;
  return {
    stamp: trimmed(x, y, trim, flat),
    off: { x: x - size.x, y: y - size.y },
    areaErrorPercent: (100 * left(trim)) / goal,
  };
}

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

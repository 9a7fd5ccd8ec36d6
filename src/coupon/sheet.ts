import { InputError, type Warning } from '../errors.js';
import { orient } from '../geometry/affine.js';
import { boxDistance, ringBounds } from '../geometry/bounds.js';
import { boxIndex } from '../geometry/box-index.js';
import { boxRing, solid } from '../geometry/shapes.js';
import type { Box, Opening, Point, Region, Ring } from '../geometry/types.js';
import { webBetween } from '../geometry/walls.js';
import { letter, letteringLengthMm } from '../lettering/lettering.js';
import type { Axis, DotGrid } from './dot-grid.js';
import type { Feature } from './features.js';
import type { CouponLabel } from './types.js';

/** One opening on its way onto the coupon. */
interface Item {
  readonly opening: Opening;
  readonly box: Box;
  /** Openings of one group stand together on purpose: both sides of a web, the strokes of a text. */
  readonly group: number;
  readonly layer: number;
}

/** What is being laid out: openings in whole dots, features, labels. */
export type CouponSheet = ReturnType<typeof newSheet>;

export interface TextOptions {
  readonly turnDeg?: 0 | 90;
  readonly heightMm?: number;
}

/** I and O look like 1 and 0. */
const LETTERS = 'ABCDEFGHJKLMNPQRSTUVWXYZ';

/** Film that must stand between the openings of one group when it is no web to be measured, mm: one dot is enough. */
const GROUP_GAP_MM = 1e-6;

export function newSheet(
  grid: DotGrid,
  { clearanceMm, letteringMm, kerfAllowanceMm }: { clearanceMm: number; letteringMm: number; kerfAllowanceMm: number },
) {
  const items: Item[] = [];
  const kept: Box[] = [];
  const features: Feature[] = [];
  const labels: CouponLabel[] = [];
  const warnings: Warning[] = [];
  const pitch = { x: grid.pitch('x'), y: grid.pitch('y') };
  let names = 0;
  let groups = 0;
  const toMm = ([x, y]: Point): Point => [grid.mm('x', x), grid.mm('y', y)];
  const newGroup = (): number => (groups += 1);
  const add = (region: Region, group: number, layer: number): void => {
    items.push({ opening: region, box: ringBounds(region.outer), group, layer });
  };
  const lettering = ({ turnDeg = 0, heightMm = letteringMm }: TextOptions) => {
    return { turnDeg, heightMm, pitch, kerfAllowanceMm };
  };
  /** The space that a text takes, mm. */
  const textBox = (text: string, [x, y]: Point, options: TextOptions = {}): Box => {
    const { heightMm, ...rest } = lettering(options);
    const length = letteringLengthMm(text, { heightMm, ...rest });
    const [w, h] = options.turnDeg === 90 ? [heightMm, length] : [length, heightMm];
    return { minX: x, minY: y, maxX: x + w, maxY: y + h };
  };
  return {
    ...{ grid, clearanceMm, letteringMm, features, labels, warnings, newGroup, textBox },
    /** Notes a warning; the same one only once. */
    warn(warning: Warning): void {
      if (!warnings.some((known) => known.message === warning.message)) warnings.push(warning);
    },
    /** The next free letter for a row of marks. */
    nextName(): string {
      const name = LETTERS[names % LETTERS.length].repeat(1 + Math.floor(names / LETTERS.length));
      names += 1;
      return name;
    },
    /** Adds a rectangle given in dots and returns its edges in mm. */
    addRectangle(dots: Box, group: number, layer = 0): Box {
      const box = grid.boxMm(dots);
      add(solid(boxRing(box)), group, layer);
      return box;
    },
    /** Adds a ring given in dots, of either direction. */
    addRing(dots: Ring, group: number): void {
      add(orient({ outer: dots.map(toMm), islands: [] }), group, 0);
    },
    /** The length of a text that runs along an axis, mm. */
    textLength: (text: string, axis: Axis): number =>
      letteringLengthMm(text, lettering({ turnDeg: axis === 'x' ? 0 : 90 })),
    addText(text: string, at: Point, options: TextOptions = {}): Box {
      const group = newGroup();
      for (const region of letter(text, { ...lettering(options), at })) add(region, group, 0);
      const box = textBox(text, at, options);
      labels.push({ text, box: [box.minX, box.minY, box.maxX, box.maxY] });
      return box;
    },
    /** Whether a ring in mm keeps the clearance to everything so far, and `borderMm` (default the clearance) to the border. */
    isFree(ring: Ring, borderMm = clearanceMm): boolean {
      // Most places that are asked for lie beside everything: their boxes tell so, and walls are laid out for the others.
      const box = ringBounds(ring);
      if (!insideCanvas(box, grid, borderMm) || !kept.every((other) => boxDistance(other, box) > 0)) return false;
      const region: Region = { outer: ring, islands: [] };
      return items.every((item) => gapMm(item, { opening: region, box }, clearanceMm) === undefined);
    },
    /** Whether there are no openings so far in a box and as near to it as the clearance, mm. */
    isFilm: (box: Box): boolean => items.every((item) => boxDistance(item.box, box) >= clearanceMm),
    /** Film over which a length is taken: nothing that is asked `isFree` for comes to stand there. */
    keepFilm: (box: Box): void => void kept.push(box),
    openings: (layer?: number): Opening[] =>
      items.filter((item) => layer === undefined || item.layer === layer).map((item) => item.opening),
    /** @throws {InputError} COUPON_CROWDED, COUPON_OUTSIDE */
    check(name: string): void {
      refuseOutside(name, items, grid);
      refuseCrowding(name, items, clearanceMm);
    },
  };
}

function insideCanvas(box: Box, grid: DotGrid, marginMm: number): boolean {
  return (
    box.minX >= marginMm &&
    box.minY >= marginMm &&
    box.maxX <= grid.mm('x', grid.columns) - marginMm &&
    box.maxY <= grid.mm('y', grid.rows) - marginMm
  );
}

/** The film between two openings when it is less than `leastMm`, else undefined; 0 when they touch or overlap. */
function gapMm(
  p: Pick<Item, 'opening' | 'box'>,
  q: Pick<Item, 'opening' | 'box'>,
  leastMm: number,
): number | undefined {
  if (boxDistance(p.box, q.box) >= leastMm) return undefined;
  const distance = webBetween(p.opening, q.opening, leastMm)?.distanceMm;
  return distance !== undefined && distance < leastMm - 1e-9 ? distance : undefined;
}
function refuseOutside(name: string, items: readonly Item[], grid: DotGrid): void {
  const outside = items.find((item) => !insideCanvas(item.box, grid, 0));
  if (!outside) return;
  const { minX, minY, maxX, maxY } = outside.box;
  throw new InputError({
    code: 'COUPON_OUTSIDE',
    message: `${name} does not fit: an opening at ${minX.toFixed(2)}, ${minY.toFixed(2)} to ${maxX.toFixed(2)}, ${maxY.toFixed(2)} mm lies outside the ${grid.mm('x', grid.columns)} x ${grid.mm('y', grid.rows)} mm canvas.`,
    hint: 'Use a larger bed, or change the positions in the pattern.',
  });
}

function refuseCrowding(name: string, items: readonly Item[], clearanceMm: number): void {
  const visit = (i: number, j: number): void => {
    const [item, other] = [items[i], items[j]];
    const least = other.group === item.group ? GROUP_GAP_MM : clearanceMm;
    const gap = gapMm(item, other, least);
    if (gap === undefined) return;
    const [x, y] = [(item.box.minX + item.box.maxX) / 2, (item.box.minY + item.box.maxY) / 2];
    throw new InputError({
      code: 'COUPON_CROWDED',
      message: `${name}: two openings near ${x.toFixed(1)}, ${y.toFixed(1)} mm are ${gap === 0 ? 'on top of each other' : `only ${gap.toFixed(2)} mm apart`}; ${least >= clearanceMm ? `${clearanceMm} mm of film must stand between them` : 'they must not touch'}.`,
      hint: 'Use a larger bed, or move them apart in the pattern.',
    });
  };
  boxIndex(items, ({ box }) => box).eachPair(visit, clearanceMm);
}

/** Which edge is meant, in words, for something that is walked along an axis. */
export function edgeWords(axis: Axis): { near: string; far: string } {
  return axis === 'x' ? { near: 'left', far: 'right' } : { near: 'lower', far: 'upper' };
}

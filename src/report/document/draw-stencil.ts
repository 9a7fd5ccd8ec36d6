import { runsAt } from '../../geometry/area.js';
import { boundsOf, grownBox, regionBounds } from '../../geometry/bounds.js';
import { copyOf, oncePerShape } from '../../geometry/copies.js';
import type { Box, Point, Region } from '../../geometry/types.js';
import { pathWriter } from '../svg-paths.js';
import type { NumberedOpening, StencilLayer } from './blocks.js';

/** Finer than a drawing of a whole board shows, mm. */
export const FINEST_MM = 0.002;
const MARGIN_SHARE = 0.03;

/** The part of the plane that all layers of a stencil lie in, with some film around, mm. */
export function frameOf(layers: readonly StencilLayer[]): Box {
  const regions = layers.flatMap(({ openings }) => openings.map(({ region }) => region));
  const box = boundsOf(regions) ?? { minX: 0, minY: 0, maxX: 1, maxY: 1 };
  const room = MARGIN_SHARE * Math.max(box.maxX - box.minX, box.maxY - box.minY, 1);
  return grownBox(box, room);
}

/** The walls of one layer: a path for good openings and one for doubtful ones. Millimetres, y down from the frame's top. */
export function drawWalls({ openings, outline }: StencilLayer, frame: Box): string {
  const kind = outline ? 'opening outline' : 'opening';
  const draw = pathWriter({ at: ([x, y]) => [x - frame.minX, frame.maxY - y], decimals: 3, finestMm: FINEST_MM });
  const path = (list: readonly NumberedOpening[], kinds: string): string =>
    list.length === 0 ? '' : `<path class="${kinds}" d="${list.map(({ region }) => draw(region)).join('')}"/>`;
  const [good, doubtful] = byDoubt(openings);
  return `${path(good, kind)}${path(doubtful, outline ? kind : `${kind} doubtful`)}`;
}

/** Good openings, and doubtful ones. */
export function byDoubt(openings: readonly NumberedOpening[]): [NumberedOpening[], NumberedOpening[]] {
  return [openings.filter(({ doubtful }) => !doubtful), openings.filter(({ doubtful }) => doubtful)];
}

/**
 * Each opening's number upon it. Where that can't be read the page sets it beside the opening as long as there is room,
 * doubtful ones first: `data-box` says where the opening lies.
 */
export function drawNumbers({ openings, outline }: StencilLayer, frame: Box): string {
  if (outline) return '';
  return byDoubt(openings)
    .toReversed()
    .flat()
    .map((opening) => {
      const [number, box] = [numberOn(opening, frame), regionBounds(opening.region)];
      if (!number) return '';
      const at = [box.minX - frame.minX, frame.maxY - box.maxY, box.maxX - frame.minX, frame.maxY - box.minY].map(um);
      return `<text x="${um(number.x)}" y="${um(number.y)}" font-size="${um(number.sizeMm)}" data-box="${at.join(' ')}">${number.words}</text>`;
    })
    .join('');
}

/** A letter is about this wide, as a share of its height. */
const LETTER_WIDTH = 0.62;
/** Larger numbers than this shout, on a board of usual size and as a share of the width of a larger one. */
const LARGEST_MM = 1.5;
const LARGEST_SHARE = 1 / 60;

/** An opening's number, so small that it lies inside: middle of its foot, mm from the frame's upper left corner. */
export function numberOn(
  { number, region }: NumberedOpening,
  frame: Box,
): { words: string; x: number; y: number; sizeMm: number } | undefined {
  if (number === undefined) return undefined;
  const words = String(number);
  const sizeIn = ({ minX, maxX, minY, maxY }: Box): number =>
    Math.min(0.8 * (maxY - minY), (0.9 * (maxX - minX)) / (LETTER_WIDTH * words.length));
  rooms[words.length] ??= oncePerShape((shape) => roomInside(shape, sizeIn));
  const box = rooms[words.length](region);
  const { dx, dy } = copyOf(region) ?? { dx: 0, dy: 0 };
  const sizeMm = Math.min(sizeIn(box), Math.max(LARGEST_MM, LARGEST_SHARE * (frame.maxX - frame.minX)));
  const [x, y] = [(box.minX + box.maxX) / 2 + dx - frame.minX, frame.maxY - (box.minY + box.maxY) / 2 - dy];
  return { words, x, y: y + 0.36 * sizeMm, sizeMm };
}

/** The room in a shape for a number of so many digits. */
const rooms: ((region: Region) => Box)[] = [];

const um = (mm: number): string => `${Number(mm.toFixed(3))}`;

/** Levels at which walls are looked for; words need no better place. */
const LEVELS = 15;

/**
 * The upright box within an opening that takes the largest words: of an L it lies in a limb, of a frame in a side.
 *
 * @param sizeIn - how large the words may be in a box, mm
 */
export function roomInside(region: Region, sizeIn: (box: Box) => number): Box {
  const bounds = regionBounds(region);
  const step = (bounds.maxY - bounds.minY) / LEVELS;
  const levels = Array.from({ length: LEVELS }, (_, i) => runsAt(region, bounds.minY + (i + 0.5) * step));
  const middle: Point = [(bounds.minX + bounds.maxX) / 2, (bounds.minY + bounds.maxY) / 2];
  // Larger words, or the same nearer to the middle.
  const worth = (box: Box): number =>
    sizeIn(box) - 1e-9 * Math.hypot((box.minX + box.maxX) / 2 - middle[0], (box.minY + box.maxY) / 2 - middle[1]);
  let best = { box: bounds, worth: Number.NEGATIVE_INFINITY };
  for (let low = 0; low < LEVELS; low += 1) {
    let shared = levels[low];
    for (let high = low; high < LEVELS && shared.length > 0; high += 1) {
      shared = both(shared, levels[high]);
      for (const [minX, maxX] of shared) {
        const box = { minX, maxX, minY: bounds.minY + low * step, maxY: bounds.minY + (high + 1) * step };
        if (worth(box) > best.worth) best = { box, worth: worth(box) };
      }
    }
  }
  return best.box;
}

type Runs = ReturnType<typeof runsAt>;

function both(ones: Runs, others: Runs): Runs {
  return ones.flatMap(([a, b]) =>
    others.map(([c, d]): Runs[number] => [Math.max(a, c), Math.min(b, d)]).filter(([from, to]) => to > from),
  );
}

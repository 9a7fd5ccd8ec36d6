import { boundsOf, grownBox } from '../../geometry/bounds.js';
import { copyOf, oncePerShape } from '../../geometry/copies.js';
import type { Box, Region } from '../../geometry/types.js';
import { pathWriter } from '../path-steps.js';
import type { NumberedOpening, StencilLayer } from './blocks.js';
import { roomInside } from './room-inside.js';

/** Finer than a drawing of a whole board shows, mm. */
export const FINEST_MM = 0.002;
const MARGIN_SHARE = 0.03;

/** The part of the plane that all layers of a stencil lie in, with some film around, mm. */
export function frameOf(layers: readonly StencilLayer[]): Box {
  const regions = layers.flatMap(({ openings }) => openings.flatMap((opening) => opening.regions));
  const box = boundsOf(regions) ?? { minX: 0, minY: 0, maxX: 1, maxY: 1 };
  const room = MARGIN_SHARE * Math.max(box.maxX - box.minX, box.maxY - box.minY, 1);
  return grownBox(box, room);
}

/** The walls of one layer: a path for good openings and one for doubtful ones. Millimetres, y down from the frame's top. */
export function drawWalls({ openings, outline }: StencilLayer, frame: Box): string {
  const kind = outline ? 'opening outline' : 'opening';
  const draw = pathWriter({ at: ([x, y]) => [x - frame.minX, frame.maxY - y], decimals: 3, finestMm: FINEST_MM });
  const path = (list: readonly NumberedOpening[], kinds: string): string =>
    list.length === 0
      ? ''
      : `<path class="${kinds}" d="${list.map(({ regions }) => regions.map(draw).join('')).join('')}"/>`;
  const [good, doubtful] = byDoubt(openings);
  return `${path(good, kind)}${path(doubtful, outline ? kind : `${kind} doubtful`)}`;
}

/** Good openings, and doubtful ones. */
export function byDoubt(openings: readonly NumberedOpening[]): [NumberedOpening[], NumberedOpening[]] {
  return [openings.filter(({ doubtful }) => !doubtful), openings.filter(({ doubtful }) => doubtful)];
}

/** Each opening's number upon it. */
export function drawNumbers({ openings, outline }: StencilLayer, frame: Box): string {
  if (outline) return '';
  return openings
    .map((opening) => numberOn(opening, frame))
    .map(
      (number) =>
        number &&
        `<text x="${um(number.x)}" y="${um(number.y)}" font-size="${um(number.sizeMm)}">${number.words}</text>`,
    )
    .join('');
}

/** A letter is about this wide, as a share of its height. */
const LETTER_WIDTH = 0.62;
const LARGEST_MM = 1.5;

/** An opening's number, so small that it lies inside: middle of its foot, mm from the frame's upper left corner. */
export function numberOn(
  { number, regions }: NumberedOpening,
  frame: Box,
): { words: string; x: number; y: number; sizeMm: number } | undefined {
  if (number === undefined) return undefined;
  const words = String(number);
  const sizeIn = ({ minX, maxX, minY, maxY }: Box): number =>
    Math.min(0.8 * (maxY - minY), (0.9 * (maxX - minX)) / (LETTER_WIDTH * words.length), LARGEST_MM);
  rooms[words.length] ??= oncePerShape((region) => roomInside([region], sizeIn));
  const box = regions.length === 1 ? rooms[words.length](regions[0]) : roomInside(regions, sizeIn);
  if (!box) return undefined;
  const { dx, dy } = (regions.length === 1 && copyOf(regions[0])) || { dx: 0, dy: 0 };
  const sizeMm = sizeIn(box);
  const [x, y] = [(box.minX + box.maxX) / 2 + dx - frame.minX, frame.maxY - (box.minY + box.maxY) / 2 - dy];
  return { words, x, y: y + 0.36 * sizeMm, sizeMm };
}

/** The room in a shape for a number of so many digits. */
const rooms: ((region: Region) => Box | undefined)[] = [];

const um = (mm: number): string => `${Number(mm.toFixed(3))}`;

import { boundsOf } from '../../geometry/bounds.js';
import { simplifyRing } from '../../geometry/simplify.js';
import type { Box, Region } from '../../geometry/types.js';
import type { NumberedOpening, StencilLayer } from './blocks.js';

/** Finer than a drawing of a whole board shows, mm. */
const FINEST_MM = 0.002;
const MARGIN_SHARE = 0.03;

/** The part of the plane that all layers of a stencil lie in, with some film around, mm. */
export function frameOf(layers: readonly StencilLayer[]): Box {
  const regions = layers.flatMap(({ openings }) => openings.flatMap((opening) => opening.regions));
  const box = boundsOf(regions) ?? { minX: 0, minY: 0, maxX: 1, maxY: 1 };
  const room = MARGIN_SHARE * Math.max(box.maxX - box.minX, box.maxY - box.minY, 1);
  return { minX: box.minX - room, minY: box.minY - room, maxX: box.maxX + room, maxY: box.maxY + room };
}

/**
 * The elements of one layer: a path for good openings and one for doubtful ones, and each opening's number upon it, so
 * small that it lies inside. Millimetres, y down from the frame's upper edge; colours come from the page's style.
 */
export function drawLayer({ openings }: StencilLayer, frame: Box): string {
  const doubtful = openings.filter((opening) => opening.doubtful);
  const good = openings.filter((opening) => !opening.doubtful);
  const path = (list: readonly NumberedOpening[], kind: string): string =>
    list.length === 0
      ? ''
      : `<path class="${kind}" d="${list.map(({ regions }) => pathOf(regions, frame)).join('')}"/>`;
  return `${path(good, 'opening')}${path(doubtful, 'opening doubtful')}<g class="numbers">${openings.map((opening) => numberOn(opening, frame)).join('')}</g>`;
}

function pathOf(regions: readonly Region[], frame: Box): string {
  return regions
    .flatMap(({ outer, islands }) => [outer, ...islands])
    .map((ring) => simplifyRing(ring, FINEST_MM))
    .map((ring) => `M${ring.map(([x, y]) => `${um(x - frame.minX)} ${um(frame.maxY - y)}`).join('L')}Z`)
    .join('');
}

/** A letter is about this wide, as a share of its height. */
const LETTER_WIDTH = 0.62;
const LARGEST_MM = 1.5;

function numberOn({ number, regions }: NumberedOpening, frame: Box): string {
  const box = boundsOf(regions);
  if (!box) return '';
  const words = String(number);
  const [width, height] = [box.maxX - box.minX, box.maxY - box.minY];
  const size = Math.min(0.8 * height, (0.9 * width) / (LETTER_WIDTH * words.length), LARGEST_MM);
  const [x, y] = [(box.minX + box.maxX) / 2 - frame.minX, frame.maxY - (box.minY + box.maxY) / 2];
  return `<text x="${um(x)}" y="${um(y + 0.36 * size)}" font-size="${um(size)}">${words}</text>`;
}

const um = (mm: number): string => `${Number(mm.toFixed(3))}`;

import { Resvg } from '@resvg/resvg-js';
import type { Artwork } from '../../../src/artwork/types.js';
import { openingPerimeter } from '../../../src/geometry/area.js';

const PX_PER_MM = 40;

/** Ink of an SVG as the resvg library draws it on white, 0 to 255 a pixel. */
function ink(svg: string, widthPx: number): { data: Float64Array; width: number } {
  const image = new Resvg(svg, {
    fitTo: { mode: 'width', value: widthPx },
    background: 'white',
    font: { loadSystemFonts: false },
  }).render();
  const data = new Float64Array(image.width * image.height);
  const { pixels } = image;
  for (let i = 0; i < data.length; i += 1) data[i] = 255 - pixels[4 * i + 1];
  return { data, width: image.width };
}

/** The openings as an SVG of plain paths. */
function asSvg({ openings, canvas }: Pick<Artwork, 'openings' | 'canvas'>): string {
  const { widthMm, heightMm } = canvas ?? { widthMm: 1, heightMm: 1 };
  const paths = openings.map((opening) =>
    [opening.outer, ...opening.islands]
      .map((ring) => `M${ring.map(([x, y]) => `${x} ${heightMm - y}`).join('L')}Z`)
      .join(''),
  );
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" width="${widthMm}mm" height="${heightMm}mm" ` +
    `viewBox="0 0 ${widthMm} ${heightMm}"><path fill-rule="evenodd" d="${paths.join('')}"/></svg>`
  );
}

/**
 * How far the openings are from what resvg draws of the source, as a mean distance between the walls, mm: the area on
 * which the two pictures differ over the length of all walls.
 */
export function wallError(source: string, artwork: Artwork): number {
  const widthPx = Math.round((artwork.canvas?.widthMm ?? 1) * PX_PER_MM);
  const asked = ink(source, widthPx);
  const got = ink(asSvg(artwork), widthPx);
  let differing = 0;
  for (let i = 0; i < asked.data.length; i += 1) differing += Math.abs(asked.data[i] - got.data[i]);
  const walls = artwork.openings.reduce((sum, opening) => sum + openingPerimeter(opening), 0);
  return differing / 255 / PX_PER_MM ** 2 / walls;
}

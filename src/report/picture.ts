import { createRequire } from 'node:module';
import { boundsOf } from '../geometry/bounds.js';
import type { Point, Region } from '../geometry/types.js';
import { escapeXml } from '../text.js';
import { type RegionPen, regionPaths } from './svg-paths.js';

const require = createRequire(import.meta.url);

/** Loaded where it is used, and at once: whoever draws goes on with other work only when the drawing has begun. */
const renderer = () => require('@resvg/resvg-js') as typeof import('@resvg/resvg-js');

/** The family name to write into pictures; its file comes with the package, so machines without fonts draw it too. */
export const PICTURE_FONT = 'DejaVu Sans';

/** How a renderer draws; the package's own fonts are read in a millisecond. */
function rendering(widthPx?: number, background?: string) {
  return {
    font: {
      loadSystemFonts: false,
      fontFiles: ['DejaVuSans.ttf', 'DejaVuSans-Bold.ttf', 'DejaVuSansMono.ttf'].map((name) =>
        require.resolve(`dejavu-fonts-ttf/ttf/${name}`),
      ),
      defaultFontFamily: PICTURE_FONT,
      sansSerifFamily: PICTURE_FONT,
      monospaceFamily: 'DejaVu Sans Mono',
    },
    background,
    ...(widthPx === undefined ? {} : { fitTo: { mode: 'width' as const, value: widthPx } }),
  };
}

/** Reads and draws on a thread of its own. */
const drawn = (svg: string, widthPx?: number, background?: string) =>
  renderer().renderAsync(svg, rendering(widthPx, background));

/** A coordinate of a picture, px. */
export const px = (value: number): string => String(Number(value.toFixed(2)));

/** A line of text, nothing where there are no words; `more` are further attributes. */
export function svgText(x: number, y: number, sizePx: number, words: string, more = ''): string {
  if (words === '') return '';
  return `<text x="${px(x)}" y="${px(y)}" font-family="${PICTURE_FONT}, sans-serif" font-size="${sizePx}"${more}>${escapeXml(words)}</text>`;
}

/** What the looks in a picture mean, in columns of so many px: a swatch with these attributes, and words. */
export function pictureKey(
  entries: readonly (readonly [look: string, words: string])[],
  [left, top]: Point,
  columnPx: number,
  columns = entries.length,
): string {
  const drawn = entries.map(([look, words], i) => {
    const [x, y] = [left + (i % columns) * columnPx, top + Math.floor(i / columns) * 26];
    return `<rect x="${px(x)}" y="${px(y)}" width="24" height="16" ${look}/>${svgText(x + 32, y + 13, 13, words)}`;
  });
  return drawn.join('\n');
}

/** A picture on white, with its title and a line of words below it. @param defs - what the drawing refers to */
export function framedPicture(
  [width, height]: Point,
  [title, words]: readonly [string, string],
  drawing: readonly string[],
  defs?: string,
): string {
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" width="${px(width)}" height="${px(height)}" viewBox="0 0 ${px(width)} ${px(height)}">`,
    ...(defs === undefined ? [] : [`<defs>${defs}</defs>`]),
    '<rect width="100%" height="100%" fill="#ffffff"/>',
    svgText(24, 34, 22, title),
    svgText(24, 56, 14, words),
    ...drawing,
    '</svg>\n',
  ].join('\n');
}

/** What a picture of openings has around them, px. */
export interface PictureRoom {
  readonly head: number;
  readonly foot: number;
  readonly side: number;
  readonly leastWidth: number;
}

/** The size of a picture of openings, and how they are drawn in it. */
export function stencilPicture(shown: readonly Region[], { head, foot, side, leastWidth }: PictureRoom) {
  const bounds = boundsOf(shown) ?? { minX: 0, minY: 0, maxX: 1, maxY: 1 };
  const sizeX = Math.max(bounds.maxX - bounds.minX, 0.1);
  const sizeY = Math.max(bounds.maxY - bounds.minY, 0.1);
  const scale = Math.min(1800 / sizeX, 1500 / sizeY, 220);
  const size: Point = [Math.max(sizeX * scale + 2 * side, leastWidth), head + sizeY * scale + foot];
  const left = (size[0] - sizeX * scale) / 2;
  return {
    size,
    pen: {
      at: ([x, y]: Point): Point => [left + (x - bounds.minX) * scale, head + (bounds.maxY - y) * scale],
      decimals: 2,
      pxPerMm: scale,
    },
  };
}

/** Regions in one look. */
export const drawnAs = (look: string, regions: readonly Region[], pen: RegionPen): string =>
  regions.length === 0
    ? ''
    : `<g ${look}>${regionPaths(regions, pen)
        .map((d) => `<path d="${d}"/>`)
        .join('')}</g>`;

const TEXT = /<text[ >].*?<\/text>/gs;

/**
 * The same drawing with all text turned into outlines, so that it looks the same on a machine without fonts. Only the
 * text goes through the renderer: it would lay out every opening of a board again. So a text must hold its own font,
 * size and colour, or have them from the outermost element.
 */
export async function outlineText(svg: string): Promise<string> {
  const texts = [...svg.matchAll(TEXT)];
  if (texts.length === 0) return svg;
  const root = svg.slice(0, svg.indexOf('>') + 1);
  const alone = texts.map(([text], i) => `<g id="text${i}">${text}</g>`).join('');
  const { Resvg } = renderer();
  const plain = new Resvg(`${root}${alone}</svg>`, rendering()).toString();
  const outlines = new Map([...plain.matchAll(OUTLINED)].map(([, id, outline]) => [id, outline]));
  // Put together at once: a picture of a board is long.
  const parts = [root.replace(/ font-family="[^"]*"/, '')];
  let at = root.length;
  for (const [i, { 0: text, index }] of texts.entries()) {
    parts.push(svg.slice(at, index), outlines.get(`text${i}`) ?? '');
    at = index + text.length;
  }
  return [...parts, svg.slice(at)].join('');
}

/** A text as the renderer writes it: an outermost group, indented by four blanks. */
const OUTLINED = /^ {4}<g id="(text\d+)"[^>]*>\n(.*?)\n {4}<\/g>$/gms;

/** Renders an SVG with the package's own font, from this moment on; `widthPx` sets the width of the picture. */
export async function svgToPng(svg: string, widthPx?: number): Promise<Uint8Array> {
  return (await drawn(svg, widthPx)).asPng();
}

/** Renders an SVG on white, row by row from the top: red, green and blue of each dot. */
export async function svgToPixels(
  svg: string,
  widthPx: number,
): Promise<{ rgb: Uint8Array; widthPx: number; heightPx: number }> {
  const { pixels, width, height } = await drawn(svg, widthPx, 'white');
  const rgb = new Uint8Array((pixels.length / 4) * 3);
  for (let from = 0, to = 0; from < pixels.length; from += 4, to += 3) {
    rgb[to] = pixels[from];
    rgb[to + 1] = pixels[from + 1];
    rgb[to + 2] = pixels[from + 2];
  }
  return { rgb, widthPx: width, heightPx: height };
}

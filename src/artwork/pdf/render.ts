import { InputError } from '../../errors.js';
import { invert, mapOpenings } from '../../geometry/affine.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Affine, Opening, PerAxis } from '../../geometry/types.js';
import type { Canvas } from '../paint/openings-of.js';
import { drawInk, type PictureView } from './draw-page.js';
import { toFullInk } from './full-ink.js';
import { withPage } from './pdfium.js';
import { noPage, unreadable } from './refusals.js';

/** Memory for the picture, one byte a pixel; the tracer needs some times that. */
const MAX_PIXELS = 100_000_000;
const BEST_DPI = 1200;
/** How much drawing is worth the wait, and how fine it gets at most. */
const MAX_DRAWN_PIXELS = 600_000_000;
const MAX_FINER = 6;
const MM_PER_POINT = 25.4 / 72;
/**
 * The page is drawn leaning by this much and the traced shapes are set upright again: rectangles along the axes would
 * be drawn on whole pixels, up to half a pixel too wide on each side.
 */
const LEAN = 1e-3;
/** No larger side than this, mm: page sizes of damaged files are any number. */
const MAX_SIDE_MM = 5000;

export interface RenderOptions {
  readonly polarity: 'auto' | 'dark' | 'light';
  /** File name, for messages. */
  readonly file?: string;
  /** The page holds pictures: draw it finer, since the renderer puts their edges on whole pixels. */
  readonly pictures?: boolean;
}

export interface Rendered {
  readonly openings: readonly Opening[];
  readonly canvas: Canvas;
  readonly dpi: number;
  readonly negative: boolean;
  readonly pageCount: number;
}

/**
 * Renders a page and traces the picture, for pages that can't be taken as vectors.
 *
 * @param pageIndex - from 0
 * @param known - the canvas, if the page could be read that far
 */
export async function renderPage(
  bytes: Uint8Array,
  pageIndex: number,
  known: Canvas | undefined,
  options: RenderOptions,
): Promise<Rendered> {
  const { polarity, file } = options;
  try {
    return await withPage(bytes, pageIndex, async (page, pageCount) => {
      if (pageIndex >= pageCount) throw noPage(pageIndex + 1, pageCount, file);
      if (!page) throw unreadable(file);
      const { originalWidth, originalHeight } = page.getOriginalSize();
      const canvas = known ?? { widthMm: originalWidth * MM_PER_POINT, heightMm: originalHeight * MM_PER_POINT };
      if (!(canvas.widthMm > 0 && canvas.heightMm > 0 && Math.max(canvas.widthMm, canvas.heightMm) <= MAX_SIDE_MM)) {
        throw unreadable(file);
      }
      const view = viewOfPage(canvas, originalWidth, originalHeight, options.pictures ?? false);
      const data = drawInk(page, view);
      toFullInk(data, view.width, view.height);
      const isNegative = polarity === 'light' || (polarity === 'auto' && isDarkAtEdges(data, view));
      if (isNegative) for (let i = 0; i < data.length; i += 1) data[i] = 255 - data[i];
      const { traceGrey } = await import('../image/trace/trace.js');
      const { pixelMm } = view;
      const traced = traceGrey({ width: view.width, height: view.height, data }, pixelMm);
      const inner = isNegative ? traced.filter((opening) => !reachesEdge(opening, view)) : traced;
      const openings = mapOpenings(upright(canvas, view.height * pixelMm.y), inner);
      return { openings, canvas, dpi: Math.round(25.4 / pixelMm.x), negative: isNegative, pageCount };
    });
  } catch (error) {
    throw error instanceof InputError ? error : unreadable(file, error);
  }
}

interface PageView extends PictureView {
  readonly pixelMm: PerAxis;
}

/** The whole page, leaning. With a matrix the renderer lays it out in points; with a width it would on whole ones. */
function viewOfPage(canvas: Canvas, originalWidth: number, originalHeight: number, pictures: boolean): PageView {
  const most = Math.sqrt(MAX_PIXELS / (canvas.widthMm * canvas.heightMm));
  const pxPerMm = Math.min(BEST_DPI / 25.4, most);
  const widthPx = canvas.widthMm * pxPerMm;
  const heightPx = canvas.heightMm * pxPerMm;
  return {
    width: Math.ceil(widthPx + LEAN * heightPx),
    height: Math.ceil(heightPx + LEAN * widthPx),
    scaleX: widthPx / originalWidth,
    scaleY: heightPx / originalHeight,
    left: 0,
    top: 0,
    finer: pictures ? finerBy(widthPx * heightPx) : 1,
    lean: LEAN,
    pixelMm: { x: 1 / pxPerMm, y: 1 / pxPerMm },
  };
}

function finerBy(pixels: number): number {
  return Math.max(1, Math.min(MAX_FINER, Math.floor(Math.sqrt(MAX_DRAWN_PIXELS / pixels))));
}

/**
 * Back from the leaning picture to the page. In the picture, y down: x' = x + lean y, y' = y + lean x.
 */
function upright({ heightMm }: Canvas, pictureHeightMm: number): Affine {
  const leaning: Affine = {
    a: 1,
    b: -LEAN,
    c: -LEAN,
    d: 1,
    e: LEAN * heightMm,
    f: pictureHeightMm - heightMm,
  };
  return invert(leaning);
}

/** Openings do not reach the edge of the sheet: a sheet that is dark along most of its edge is a negative. */
function isDarkAtEdges(ink: Uint8Array, { width, height, lean }: PictureView): boolean {
  const right = Math.floor(width - lean * height) - 2;
  const bottom = Math.floor(height - lean * width) - 2;
  let dark = 0;
  let looked = 0;
  const look = (x: number, y: number): void => {
    const px = Math.floor(x + lean * y);
    const py = Math.floor(y + lean * x);
    looked += 1;
    dark += ink[Math.min(py, height - 1) * width + Math.min(px, width - 1)] >= 128 ? 1 : 0;
  };
  for (let x = 1; x < right; x += 1) for (const y of [1, bottom]) look(x, y);
  for (let y = 1; y < bottom; y += 1) for (const x of [1, right]) look(x, y);
  return dark > looked / 2;
}

function reachesEdge({ outer }: Opening, { width, height, pixelMm }: PageView): boolean {
  const { minX, minY, maxX, maxY } = ringBounds(outer);
  return minX < pixelMm.x || minY < pixelMm.y || maxX > (width - 1) * pixelMm.x || maxY > (height - 1) * pixelMm.y;
}

import { InputError } from '../../errors.js';
import { invert, mapOpenings } from '../../geometry/affine.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Affine, Opening, PerAxis, Size } from '../../geometry/types.js';
import { noPage, unreadable } from './open-pdf.js';
import { type PageHandle, withPage } from './pdfium.js';

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
  readonly canvas: Size;
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
  known: Size | undefined,
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

/** The image in which the page lies. */
interface PageView {
  /** Pixels. */
  readonly width: number;
  readonly height: number;
  /** Pixels per unit of the renderer's own layout of the page. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** Each pixel is the mean of so many drawn ones, squared. */
  readonly finer: number;
  readonly pixelMm: PerAxis;
}

/** The whole page, leaning. With a matrix the renderer lays it out in points; with a width it would on whole ones. */
function viewOfPage(canvas: Size, originalWidth: number, originalHeight: number, pictures: boolean): PageView {
  const most = Math.sqrt(MAX_PIXELS / (canvas.widthMm * canvas.heightMm));
  const pxPerMm = Math.min(BEST_DPI / 25.4, most);
  const widthPx = canvas.widthMm * pxPerMm;
  const heightPx = canvas.heightMm * pxPerMm;
  return {
    width: Math.ceil(widthPx + LEAN * heightPx),
    height: Math.ceil(heightPx + LEAN * widthPx),
    scaleX: widthPx / originalWidth,
    scaleY: heightPx / originalHeight,
    finer: pictures ? finerBy(widthPx * heightPx) : 1,
    pixelMm: { x: 1 / pxPerMm, y: 1 / pxPerMm },
  };
}

function finerBy(pixels: number): number {
  return Math.max(1, Math.min(MAX_FINER, Math.floor(Math.sqrt(MAX_DRAWN_PIXELS / pixels))));
}

/**
 * Back from the leaning picture to the page. In the picture, y down: x' = x + lean y, y' = y + lean x.
 */
function upright({ heightMm }: Size, pictureHeightMm: number): Affine {
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
function isDarkAtEdges(ink: Uint8Array, { width, height }: PageView): boolean {
  const right = Math.floor(width - LEAN * height) - 2;
  const bottom = Math.floor(height - LEAN * width) - 2;
  let dark = 0;
  let looked = 0;
  const look = (x: number, y: number): void => {
    const px = Math.floor(x + LEAN * y);
    const py = Math.floor(y + LEAN * x);
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

/** Bands keep the four bytes a pixel of the renderer small. */
const BAND_PIXELS = 4_000_000;
/** A first look is drawn so many times coarser. */
const COARSE = 8;

/** Draws a page on white; 0 for paper, 255 for full ink of any colour. Bands of bare paper are not drawn finely. */
function drawInk(page: PageHandle, view: PageView): Uint8Array {
  const { width, height, finer } = view;
  const { module } = page;
  const ink = new Uint8Array(width * height);
  const rows = Math.max(1, Math.min(height, Math.floor(BAND_PIXELS / (width * finer * finer))));
  const coarse = { width: Math.ceil(width / COARSE), height: Math.ceil(height / COARSE), zoom: 1 / COARSE, top: 0 };
  const pixels = Math.max(width * rows * finer * finer, coarse.width * coarse.height);
  // Four bytes a pixel, and before them ten numbers that say how to draw it.
  const memory = module.wasmExports.malloc(NUMBERS_BYTES + 4 * pixels);
  if (memory === 0) throw new Error('no memory for a band');
  const drawn = memory + NUMBERS_BYTES;
  try {
    drawBand(page, view, coarse, memory);
    const isInked = rowsWithInk(module.HEAPU8, drawn, coarse.width, coarse.height);
    for (let top = 0; top < height; top += rows) {
      const count = Math.min(rows, height - top);
      // One coarse row more on either side, for what is drawn a little larger when fine.
      const around = isInked.subarray(
        Math.max(0, Math.floor(top / COARSE) - 1),
        Math.floor((top + count - 1) / COARSE) + 2,
      );
      if (!around.includes(1)) continue;
      drawBand(page, view, { width: width * finer, height: count * finer, zoom: finer, top: top * finer }, memory);
      takeMeans(module.HEAPU8, drawn, ink.subarray(top * width, (top + count) * width), width, finer);
    }
  } finally {
    module.wasmExports.free(memory);
  }
  return ink;
}

const NUMBERS_BYTES = 40;

interface Band {
  readonly width: number;
  readonly height: number;
  /** Drawn pixels per pixel of the picture. */
  readonly zoom: number;
  /** First drawn row. */
  readonly top: number;
}

function drawBand({ module, pageIdx }: PageHandle, view: PageView, band: Band, memory: number): void {
  const { width, height, zoom, top } = band;
  // Format 3: four bytes a pixel, the last one unused.
  const bitmap = module._FPDFBitmap_CreateEx(width, height, 3, memory + NUMBERS_BYTES, width * 4);
  if (bitmap === 0) throw new Error('no bitmap');
  module._FPDFBitmap_FillRect(bitmap, 0, 0, width, height, 0xffffffff);
  const [sx, sy] = [view.scaleX * zoom, view.scaleY * zoom];
  // Matrix a, b, c, d, e, f, then the clip: left, top, right, bottom.
  module.HEAPF32.set([sx, LEAN * sx, LEAN * sy, sy, 0, -top, 0, 0, width, height], memory / 4);
  module._FPDF_RenderPageBitmapWithMatrix(bitmap, pageIdx, memory, memory + 24, 0);
  module._FPDFBitmap_Destroy(bitmap);
}

function rowsWithInk(heap: Uint8Array, pointer: number, width: number, height: number): Uint8Array {
  return Uint8Array.from({ length: height }, (_, y) => {
    const from = pointer + y * width * 4;
    for (let at = from; at < from + width * 4; at += 4) {
      if (heap[at] < 255 || heap[at + 1] < 255 || heap[at + 2] < 255) return 1;
    }
    return 0;
  });
}

/** Fills rows of the picture from drawn ones, `finer` times as many each way. */
function takeMeans(heap: Uint8Array, pointer: number, ink: Uint8Array, width: number, finer: number): void {
  const sums = new Uint32Array(width);
  for (let to = 0, from = pointer; to < ink.length; to += width) {
    sums.fill(0);
    for (let fine = 0; fine < finer; fine += 1) {
      for (let x = 0; x < width; x += 1) {
        for (let k = 0; k < finer; k += 1, from += 4) {
          sums[x] += 255 - Math.min(heap[from], heap[from + 1], heap[from + 2]);
        }
      }
    }
    for (let x = 0; x < width; x += 1) ink[to + x] = Math.round(sums[x] / (finer * finer));
  }
}

/** Paler than this is no ink at all. */
const PALEST_INK = 64;
/** A wall's pale pixels lie at most this far from the even ink that they belong to, px. */
const REACH = 3;
/** Fewer even pixels of one level than this are chance. */
const FEWEST = 16;

/**
 * Makes each shape's ink full ink, in place: the renderer shows a black of printing inks as dark grey and a spot colour
 * paler still, and a wall is where half of its own ink is, not half of black.
 *
 * @param ink - row by row; 0 for paper, 255 for full ink
 */
export function toFullInk(ink: Uint8Array, width: number, height: number): void {
  const counts = new Uint32Array(256);
  for (let y = 1; y < height - 1; y += 1) {
    for (let x = 1, i = y * width + 1; x < width - 1; x += 1, i += 1) if (isEven(ink, i, width)) counts[ink[i]] += 1;
  }
  let commonest = 255;
  let areSeveral = false;
  for (let level = 254; level >= PALEST_INK; level -= 1) {
    if (counts[level] < FEWEST) continue;
    areSeveral ||= commonest < 255 || counts[255] >= FEWEST;
    if (counts[level] > counts[commonest]) commonest = level;
  }
  const scale = scalesFor();
  if (areSeveral) each(ink, width, height, (level, value) => scale[(level || commonest) * 256 + value]);
  else if (commonest < 255) for (let i = 0; i < ink.length; i += 1) ink[i] = scale[commonest * 256 + ink[i]];
}

/** Whether a pixel looks like its four neighbours: within a shape, not on its wall. */
function isEven(ink: Uint8Array, i: number, width: number): boolean {
  const value = ink[i];
  return (
    value >= PALEST_INK &&
    value === ink[i - 1] &&
    value === ink[i + 1] &&
    value === ink[i - width] &&
    value === ink[i + width]
  );
}

/** Table of `value` as it would be if `level` were full ink. */
function scalesFor(): Uint8Array {
  const table = new Uint8Array(65_536);
  for (let level = 1; level < 256; level += 1) {
    for (let value = 0; value < 256; value += 1) {
      table[level * 256 + value] = Math.min(255, Math.round((value * 255) / level));
    }
  }
  return table;
}

/** Replaces each pixel, given the darkest even ink near it (0: none). */
function each(ink: Uint8Array, width: number, height: number, value: (level: number, value: number) => number): void {
  // Some rows of "darkest even ink to the left and right of here"; as many as are looked at up and down.
  const rows = Array.from({ length: 2 * REACH + 1 }, () => new Uint8Array(width));
  const even = new Uint8Array(width);
  const fill = (y: number): void => {
    const row = rows[y % rows.length].fill(0);
    if (y < 1 || y >= height - 1) return;
    even.fill(0);
    for (let x = 1, i = y * width + 1; x < width - 1; x += 1, i += 1) if (isEven(ink, i, width)) even[x] = ink[i];
    for (let x = 0; x < width; x += 1) {
      if (even[x] === 0) continue;
      const end = Math.min(width - 1, x + REACH);
      for (let at = Math.max(0, x - REACH); at <= end; at += 1) if (even[x] > row[at]) row[at] = even[x];
    }
  };
  for (let y = 0; y < Math.min(REACH, height); y += 1) fill(y);
  for (let y = 0; y < height; y += 1) {
    // Row y + REACH is looked at before rows below y change.
    fill(y + REACH);
    for (let x = 0, i = y * width; x < width; x += 1, i += 1) {
      if (ink[i] === 0 || ink[i] === 255) continue;
      let level = 0;
      for (const row of rows) if (row[x] > level) level = row[x];
      ink[i] = value(level, ink[i]);
    }
  }
}

import type { PageHandle } from './pdfium.js';

/** Bands keep the four bytes a pixel of the renderer small. */
const BAND_PIXELS = 4_000_000;
/** A first look is drawn so many times coarser. */
const COARSE = 8;

/** The image in which the page lies, pixels. */
export interface PictureView {
  readonly width: number;
  readonly height: number;
  /** Pixels per unit of the renderer's own layout of the page. */
  readonly scaleX: number;
  readonly scaleY: number;
  /** Where the page's upper left corner lies, pixels. */
  readonly left: number;
  readonly top: number;
  /** Each pixel is the mean of so many drawn ones, squared. */
  readonly finer: number;
  readonly lean: number;
}

/** Draws a page on white; 0 for paper, 255 for full ink of any colour. Bands of bare paper are not drawn finely. */
export function drawInk(page: PageHandle, view: PictureView): Uint8Array {
  const { width, height, finer } = view;
  const ink = new Uint8Array(width * height);
  const rows = rowsAtOnce(view);
  const coarse = { width: Math.ceil(width / COARSE), height: Math.ceil(height / COARSE), zoom: 1 / COARSE, top: 0 };
  withMemory(page, Math.max(width * rows * finer * finer, coarse.width * coarse.height), (memory) => {
    const { module } = page;
    drawBand(page, view, coarse, memory);
    const isInked = rowsWithInk(module.HEAPU8, memory.pointer, coarse.width, coarse.height);
    for (let top = 0; top < height; top += rows) {
      const count = Math.min(rows, height - top);
      // One coarse row more on either side, for what is drawn a little larger when fine.
      const around = isInked.subarray(
        Math.max(0, Math.floor(top / COARSE) - 1),
        Math.floor((top + count - 1) / COARSE) + 2,
      );
      if (!around.includes(1)) continue;
      drawBand(page, view, { width: width * finer, height: count * finer, zoom: finer, top: top * finer }, memory);
      takeMeans(module.HEAPU8, memory.pointer, ink.subarray(top * width, (top + count) * width), width, finer);
    }
  });
  return ink;
}

const rowsAtOnce = ({ width, height, finer }: PictureView): number =>
  Math.max(1, Math.min(height, Math.floor(BAND_PIXELS / (width * finer * finer))));

function withMemory({ module }: PageHandle, pixels: number, use: (memory: Memory) => void): void {
  const pointer = module.wasmExports.malloc(pixels * 4);
  const numbers = module.wasmExports.malloc(10 * 4);
  if (pointer === 0 || numbers === 0) throw new Error('no memory for a band');
  try {
    use({ pointer, numbers });
  } finally {
    module.wasmExports.free(pointer);
    module.wasmExports.free(numbers);
  }
}

/** The renderer's memory for a band's pixels and for the numbers that say how to draw it. */
interface Memory {
  readonly pointer: number;
  readonly numbers: number;
}

interface Band {
  readonly width: number;
  readonly height: number;
  /** Drawn pixels per pixel of the picture. */
  readonly zoom: number;
  /** First drawn row. */
  readonly top: number;
}

function drawBand({ module, pageIdx }: PageHandle, view: PictureView, band: Band, memory: Memory): void {
  const { width, height, zoom, top } = band;
  // Format 3: four bytes a pixel, the last one unused.
  const bitmap = module._FPDFBitmap_CreateEx(width, height, 3, memory.pointer, width * 4);
  if (bitmap === 0) throw new Error('no bitmap');
  module._FPDFBitmap_FillRect(bitmap, 0, 0, width, height, 0xffffffff);
  const [sx, sy] = [view.scaleX * zoom, view.scaleY * zoom];
  module.HEAPF32.set(
    // Matrix a, b, c, d, e, f, then the clip: left, top, right, bottom.
    [sx, view.lean * sx, view.lean * sy, sy, view.left * zoom, view.top * zoom - top, 0, 0, width, height],
    memory.numbers / 4,
  );
  module._FPDF_RenderPageBitmapWithMatrix(bitmap, pageIdx, memory.numbers, memory.numbers + 24, 0);
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

import { InputError } from '../../errors.js';

/** The part of PDFium's low-level interface that draws bands of a page and hands out a picture's own samples. */
export interface Engine {
  readonly HEAPU8: Uint8Array;
  readonly HEAPF32: Float32Array;
  readonly wasmExports: { malloc(size: number): number; free(pointer: number): void };
  _FPDFPage_GetObject(page: number, index: number): number;
  _FPDFImageObj_GetBitmap(object: number): number;
  _FPDFImageObj_GetImageDataDecoded(object: number, buffer: number, length: number): number;
  _FPDFBitmap_GetWidth(bitmap: number): number;
  _FPDFBitmap_GetHeight(bitmap: number): number;
  _FPDFBitmap_GetStride(bitmap: number): number;
  _FPDFBitmap_GetFormat(bitmap: number): number;
  _FPDFBitmap_GetBuffer(bitmap: number): number;
  _FPDFBitmap_CreateEx(width: number, height: number, format: number, pointer: number, stride: number): number;
  _FPDFBitmap_FillRect(bitmap: number, x: number, y: number, width: number, height: number, colour: number): void;
  _FPDFBitmap_Destroy(bitmap: number): void;
  _FPDF_RenderPageBitmapWithMatrix(bitmap: number, page: number, matrix: number, clip: number, flags: number): void;
  _FPDF_ClosePage(page: number): void;
}

export interface PageHandle {
  readonly module: Engine;
  readonly pageIdx: number;
  getOriginalSize(): { originalWidth: number; originalHeight: number };
}

type Pdfium = Awaited<ReturnType<typeof import('@hyzyla/pdfium').PDFiumLibrary.init>>;

let running: Promise<Pdfium> | undefined;

/** PDFium, started once for all files and pictures of a thread: a start takes as long as a small file. */
function pdfium(): Promise<Pdfium> {
  running ??= import('@hyzyla/pdfium').then(({ PDFiumLibrary }) => PDFiumLibrary.init());
  return running;
}

/**
 * Opens a page of a file for some work.
 *
 * @param index - from 0
 * @param work - is not given a page that is not there or can't be read, but how many there are
 */
export async function withPage<T>(
  bytes: Uint8Array,
  index: number,
  work: (page: PageHandle | undefined, pageCount: number) => T | Promise<T>,
): Promise<T> {
  try {
    const document = await (await pdfium()).loadDocument(bytes);
    try {
      const pageCount = document.getPageCount();
      if (index >= pageCount) return await work(undefined, pageCount);
      const page = document.getPage(index) as unknown as PageHandle;
      if (!page.pageIdx) return await work(undefined, pageCount);
      try {
        return await work(page, pageCount);
      } finally {
        page.module._FPDF_ClosePage(page.pageIdx);
      }
    } finally {
      document.destroy();
    }
  } catch (failure) {
    // After a crash its memory may be in any state: the next file gets a new one. A file that it refuses does no harm.
    const isRefusal = failure instanceof InputError || (failure instanceof Error && failure.constructor === Error);
    if (!isRefusal) running = undefined;
    throw failure;
  }
}

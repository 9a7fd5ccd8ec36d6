export type Pdfium = Awaited<ReturnType<typeof import('@hyzyla/pdfium').PDFiumLibrary.init>>;

let running: Promise<Pdfium> | undefined;

/**
 * PDFium, started once for all files and pictures of a thread: a start takes as long as a small file.
 *
 * Whoever sees it fail calls `giveUpPdfium` with the failure.
 */
export function pdfium(): Promise<Pdfium> {
  running ??= import('@hyzyla/pdfium').then(({ PDFiumLibrary }) => PDFiumLibrary.init());
  return running;
}

/** After a crash its memory may be in any state: the next file gets a new one. A file that it refuses does no harm. */
export function giveUpPdfium(failure: unknown): void {
  const isRefusal = failure instanceof Error && failure.constructor === Error;
  if (!isRefusal) running = undefined;
}

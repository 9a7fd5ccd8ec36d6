import { PDFDocument, type PDFPage } from 'pdf-lib';

export const POINTS_PER_MM = 72 / 25.4;

/** A PDF of one page, 50 x 40 mm, with a content stream whose unit is 1 mm; each character of it is a byte. */
export async function makePdf(
  content: string,
  setUp?: (page: PDFPage, document: PDFDocument) => unknown,
  options: { readonly objectStreams?: boolean; readonly plain?: boolean } = {},
): Promise<Uint8Array> {
  const document = await PDFDocument.create({ updateMetadata: false });
  const page = document.addPage([50 * POINTS_PER_MM, 40 * POINTS_PER_MM]);
  const text = Buffer.from(`q ${POINTS_PER_MM} 0 0 ${POINTS_PER_MM} 0 0 cm\n${content}\nQ`, 'latin1');
  const stream = options.plain ? document.context.stream(text) : document.context.flateStream(text);
  page.node.addContentStream(document.context.register(stream));
  await setUp?.(page, document);
  return document.save({ useObjectStreams: options.objectStreams ?? false });
}

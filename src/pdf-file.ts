import type { PDFDocument, PDFFont } from 'pdf-lib';
import { MM_PER_INCH } from './text.js';

export const PT_PER_MM = 72 / MM_PER_INCH;

/** Written into every file, so that the same inputs give the same bytes. */
const FIXED_DATE = new Date(Date.UTC(2000, 0, 1));

/** An empty PDF; the same content gives the same bytes. */
export async function newPdf(title?: string): Promise<PDFDocument> {
  const { PDFDocument } = await import('pdf-lib');
  const document = await PDFDocument.create({ updateMetadata: false });
  document.setCreationDate(FIXED_DATE);
  document.setModificationDate(FIXED_DATE);
  document.setProducer('apertrue');
  if (title) document.setTitle(title);
  return document;
}

/** Fonts that every reader of PDFs has. They know only what {@link knownLetters} leaves. */
export interface PdfFonts {
  readonly plain: PDFFont;
  readonly bold: PDFFont;
}

export async function pdfFonts(document: PDFDocument): Promise<PdfFonts> {
  const { StandardFonts } = await import('pdf-lib');
  return {
    plain: document.embedStandardFont(StandardFonts.Helvetica),
    bold: document.embedStandardFont(StandardFonts.HelveticaBold),
  };
}

/** Without object streams, which not every laser program reads. */
export function pdfBytes(document: PDFDocument): Promise<Uint8Array> {
  return document.save({ useObjectStreams: false });
}

const OTHERS: readonly (readonly [RegExp, string])[] = [
  [/[−‐‑]/g, '-'],
  [/→/g, '->'],
  [/≤/g, '<='],
  [/≥/g, '>='],
  [/[\u2009\u202f]/g, ' '],
  [/μ/g, 'µ'],
];

/** The standard fonts of PDF know the letters of Windows code page 1252 only, and throw at others. */
export function knownLetters(text: string): string {
  const replaced = OTHERS.reduce((words, [letters, other]) => words.replace(letters, other), text);
  return replaced.replace(/[^\u0020-\u007e\u00a0-\u00ff–—‘’“”…•€]/g, '?');
}

import { type PDFDocument, PDFRawStream } from 'pdf-lib';
import { InputError, type Warning, warningsIf } from '../../errors.js';
import { mapOpenings, scaling } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Opening, Size } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { count } from '../../text.js';
import { Drawing } from '../paint/drawing.js';
import { scaleFromDistance } from '../paint/known-distance.js';
import { openingsOf } from '../paint/openings-of.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import { ContentInterpreter, type Seen } from './content.js';
import type { PlacedPicture } from './join-strips.js';
import { DamagedStream, UndecodedStream } from './lex.js';
import * as objects from './objects.js';
import { damagedPicture, loadQuietly, noPage, quietly, unreadable } from './open-pdf.js';
import { drawnAnnotations, hiddenGroups, inherited, pageContent, pageGeometry } from './page.js';
import type { TracedPictures } from './picture.js';
import { renderPage } from './render.js';
import { initialState } from './state.js';

/** So many pages are looked at when none was chosen. */
const MAX_PAGES_LOOKED_AT = 60;

interface Paths {
  readonly drawing: Drawing;
  readonly seen: Seen;
  readonly pictures: readonly PlacedPicture[];
}

/** A page and what it holds; without paths when its content can't be taken apart. */
interface Page {
  readonly index: number;
  readonly canvas: Size;
  readonly paths?: Paths;
  readonly warnings?: readonly Warning[];
}

/**
 * Reads a page of a PDF into openings at true size: paths as vectors, in the order of painting, light ones erasing what
 * lies beneath, and pictures between them, traced from their own samples. Pages with patterns, shadings, soft masks or
 * see-through pictures upon other things, and files too damaged to be taken apart, are rendered and traced instead. Text
 * is left out with a warning.
 * Source: ISO 32000-1:2008, chapters 7 and 8.
 *
 * @param bytes - the whole file
 * @param options - `page` where several pages draw something; `widthMm` or `knownDistance` to override the page's size
 * @returns openings in mm; the visible page's lower left corner is the origin
 * @throws {InputError} PDF_BROKEN, PAGE_UNKNOWN, PAGE_NOT_CHOSEN, NOTHING_DRAWN, TOO_COMPLEX
 */
export async function readPdf(bytes: Uint8Array, options: ReadOptions): Promise<Artwork> {
  const file = options.name;
  if (!hasEnd(bytes)) throw cutOff(file);
  const document = await open(bytes);
  const budget = new WorkBudget();
  const page = document && (await quietly(() => budget.run(() => pickPage(document, options))));
  const found =
    (page?.paths && (await asVectors(page, page.paths, options, budget))) ?? (await asRendered(bytes, page, options));
  const warnings = [
    ...(page?.warnings ?? []),
    ...(page?.paths ? wordsAboutLost(page.paths.seen, file) : []),
    ...(document ? wordsAboutLengths(document, file) : []),
    ...found.warnings,
  ];
  if (found.openings.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file },
      message: `page ${page ? page.index + 1 : (options.page ?? 1)} draws no shape, so there is no opening to cut.${warnings.map(({ message }) => ` ${message}`).join('')}`,
      hint: 'Check that this is the paste layer, plotted as filled shapes.',
    });
  }
  const scale = scaleAsked(found.openings, found.canvas, options);
  const openings = scale === 1 ? found.openings : mapOpenings(scaling(scale), found.openings);
  return {
    format: 'pdf',
    openings,
    warnings: [...warnings, ...findSuspicious(openings)],
    canvas: { widthMm: found.canvas.widthMm * scale, heightMm: found.canvas.heightMm * scale },
    bounds: boundsOf(openings),
  };
}

type Found = Pick<Artwork, 'openings' | 'warnings'> & { readonly canvas: Size };

/** Undefined when the page holds what can't be taken so. */
async function asVectors(
  page: Page,
  paths: Paths,
  options: ReadOptions,
  budget: WorkBudget,
): Promise<Found | undefined> {
  const { drawing, seen, pictures } = paths;
  if (seen.unsupported.size > 0) return undefined;
  let traced: TracedPictures | undefined;
  if (pictures.length > 0) {
    const { tracePictures } = await import('./picture.js');
    traced = await tracePictures(pictures, drawing.paints).catch((error: unknown) => {
      throw error instanceof DamagedStream ? damagedPicture(error, options.name) : error;
    });
    if (!traced) return undefined;
  }
  const paints = traced?.paints ?? drawing.paints;
  const { openings, warnings } = budget.run(() => openingsOf(paints, page.canvas, options.polarity ?? 'auto'));
  return {
    openings,
    canvas: page.canvas,
    warnings: [
      ...wordsAbout(seen, options.name),
      ...drawing.warnings(),
      ...(traced ? wordsAboutPictures(pictures.length, traced, options.name) : []),
      ...warnings,
    ],
  };
}

async function asRendered(bytes: Uint8Array, page: Page | undefined, options: ReadOptions): Promise<Found> {
  const polarity = options.polarity ?? 'auto';
  const rendered = await renderPage(bytes, page?.index ?? (options.page ?? 1) - 1, page?.canvas, {
    polarity,
    file: options.name,
    pictures: (page?.paths?.pictures.length ?? 0) > 0 || page?.paths?.seen.unsupported.has('picture'),
  });
  if (!page && rendered.pageCount > 1 && options.page === undefined) {
    throw notChosen(rendered.pageCount, 'some', options);
  }
  const isDamaged = !page && !Buffer.from(bytes).includes('/Encrypt');
  const reason = isDamaged ? 'its structure is damaged' : reasonToRender(page);
  const warnings = warningsIf(options.name, [
    [
      1,
      'PDF_RENDERED',
      `the page was rendered at ${rendered.dpi} dpi and traced, texts included, because ${reason}.`,
      'Plot the paste layer as plain vectors for the last micrometre.',
    ],
    [
      isDamaged,
      'PDF_DAMAGED',
      'the renderer mends a damaged file as it can and does not say what it leaves out.',
      'Export it again, or compare the openings with what they should be.',
    ],
    [
      rendered.negative && polarity === 'auto',
      'POLARITY_INFERRED',
      'the artwork is read as a negative: the page is dark along its edges.',
      'Say --polarity dark if the dark parts are the openings.',
    ],
  ]);
  return { ...rendered, warnings };
}

function scaleAsked(openings: readonly Opening[], canvas: Size, options: ReadOptions): number {
  if (options.widthMm !== undefined) return options.widthMm / canvas.widthMm;
  return options.knownDistance ? scaleFromDistance(openings, options.knownDistance, options.name) : 1;
}

/** A PDF ends with `%%EOF`, perhaps with some bytes of a mail program after it. */
function hasEnd(bytes: Uint8Array): boolean {
  return Buffer.from(bytes.subarray(Math.max(0, bytes.length - 2048)))
    .toString('latin1')
    .includes('%%EOF');
}

function cutOff(file: string | undefined): InputError {
  return new InputError({
    code: 'FILE_CUT_OFF',
    place: { file },
    message: 'the PDF has no end mark (%%EOF), so a part of it is missing.',
    hint: 'Fetch or export it again.',
  });
}

/** Takes a file apart; undefined when that is beyond this parser. */
async function open(bytes: Uint8Array): Promise<PDFDocument | undefined> {
  try {
    const document = await loadQuietly(bytes);
    return document.isEncrypted || document.getPageCount() === 0 ? undefined : document;
  } catch {
    return undefined;
  }
}

/** Why a page can't be taken as vectors, in words. */
function reasonToRender(page: Page | undefined): string {
  if (!page) return 'it is protected';
  if (!page.paths) return 'its content is coded in a way that only the renderer knows';
  const { seen, pictures } = page.paths;
  const kinds = seen.unsupported.size > 0 ? [...seen.unsupported] : [['picture', pictures.length] as const];
  return `it holds ${kinds.map(([what, n]) => count(n, what)).join(' and ')}`;
}

function wordsAboutPictures(pictures: number, { dpi, blank, cutOff }: TracedPictures, file?: string): Warning[] {
  const of = dpi === undefined ? 'of one colour each' : `of ${Math.round(dpi)} dpi`;
  return warningsIf(file, [
    [
      pictures,
      'PICTURE_TRACED',
      `the page holds ${count(pictures, 'picture')} ${of}; what is dark in it was traced.`,
      'Plot the paste layer as plain vectors for the last micrometre.',
    ],
    [
      cutOff,
      'PICTURE_CUT_OFF',
      `the data of ${count(cutOff, 'picture')} lack the mark at their end, so rows may be missing.`,
      'Compare the openings with what a viewer shows, down to the lowest ones.',
    ],
    [
      blank,
      'PICTURE_BLANK',
      `${count(blank, 'picture')} came out in one colour all over, as damaged ones do.`,
      'Compare the openings with what a viewer shows.',
    ],
  ]);
}

function pickPage(document: PDFDocument, options: ReadOptions): Page {
  const pages = document.getPages();
  const { name: file, page: asked = pages.length === 1 ? 1 : undefined } = options;
  const hidden = hiddenGroups(document);
  const look = (index: number): Page => {
    const geometry = pageGeometry(pages[index]);
    if (!geometry) throw unreadable(file);
    const { canvas, map } = geometry;
    const drawing = new Drawing(file);
    const interpreter = new ContentInterpreter(drawing, hidden, file);
    const { seen, pictures } = interpreter;
    try {
      const resources = objects.asDict(inherited(pages[index], 'Resources'));
      interpreter.run(pageContent(pages[index]), resources, initialState(map));
      seen.annotations = drawnAnnotations(pages[index], (group) => interpreter.isOff(group));
    } catch (error) {
      if (error instanceof UndecodedStream) return { index, canvas };
      throw error instanceof InputError ? error : unreadable(file, error);
    }
    return { index, canvas, paths: { drawing, seen, pictures } };
  };
  if (asked !== undefined) {
    if (asked > pages.length || asked < 1) throw noPage(asked, pages.length, file);
    return look(asked - 1);
  }
  const drawn = pages
    .slice(0, MAX_PAGES_LOOKED_AT)
    .map((_, index) => look(index))
    .filter(
      ({ paths }) =>
        !paths || paths.drawing.paints.length > 0 || paths.pictures.length > 0 || paths.seen.unsupported.size > 0,
    );
  if (drawn.length !== 1 || pages.length > MAX_PAGES_LOOKED_AT) {
    const list = drawn.map(({ index, paths }) => `${index + 1} (${paths?.drawing.paints.length ?? '?'} shapes)`);
    throw notChosen(pages.length, list.join(', ') || 'none', options);
  }
  const message = `of ${pages.length} pages only page ${drawn[0].index + 1} draws anything; it was taken.`;
  return { ...drawn[0], warnings: [{ code: 'PAGE_TAKEN', place: { file }, message }] };
}

function notChosen(pageCount: number, drawing: string, options: ReadOptions): InputError {
  return new InputError({
    code: 'PAGE_NOT_CHOSEN',
    place: { file: options.name, key: 'page' },
    message: `the PDF has ${pageCount} pages; these draw something: ${drawing}.`,
    hint: 'Say which one with --page.',
  });
}

function wordsAbout({ texts, hairlines }: Seen, file?: string): Warning[] {
  return warningsIf(file, [
    [texts, 'TEXT_LEFT_OUT', `${texts} piece(s) of text were left out: they are no openings.`],
    [
      hairlines,
      'HAIRLINES',
      `${hairlines} line(s) have a width of 0 ("as thin as can be drawn"); they are read as 0.01 mm wide.`,
    ],
  ]);
}

/** Line ends that writers count or leave out. */
const LINE_END = 2;

/** Data that are shorter or longer than the file says: bytes went missing, or were put in, on the way. */
function wordsAboutLengths(document: PDFDocument, file?: string): Warning[] {
  const wrong = document.context.enumerateIndirectObjects().filter(([, object]) => {
    if (!(object instanceof PDFRawStream)) return false;
    const said = objects.numberOf(objects.get(object.dict, 'Length')) ?? object.contents.length;
    return Math.abs(said - object.contents.length) > LINE_END;
  });
  return warningsIf(file, [
    [
      wrong.length,
      'PDF_DAMAGED',
      `${count(wrong.length, 'part')} of the file ${wrong.length === 1 ? 'is' : 'are'} not as long as it says, so something may be missing.`,
      'Export it again, or compare the openings with what they should be.',
    ],
  ]);
}

/** Whatever becomes of the page, the renderer leaves these out too. */
function wordsAboutLost({ unknown, open, missing, annotations }: Seen, file?: string): Warning[] {
  const some = (names: ReadonlySet<string>): string => [...names].slice(0, 8).join(' ');
  return warningsIf(file, [
    [
      unknown.size,
      'PDF_OPERATOR',
      `the page holds operators or numbers that the standard does not know; viewers pass them over or differ: ${some(unknown)}.`,
      'Compare the openings with what they should be.',
    ],
    [
      open,
      'PDF_UNBALANCED',
      'the content of the page does not close what it opens, or the other way round (shapes, q and Q, BDC and EMC), so a part may be missing.',
      'Compare the openings with what they should be.',
    ],
    [
      annotations,
      'ANNOTATION_LEFT_OUT',
      `${count(annotations, 'annotation')} that viewers draw upon the page ${annotations === 1 ? 'was' : 'were'} left out.`,
      'Print the page into a new PDF if they belong to it.',
    ],
    [
      missing.size,
      'PDF_MISSING',
      `the page asks for what is not in the file, so something may be missing: ${some(missing)}.`,
      'Compare the openings with what a viewer shows.',
    ],
  ]);
}

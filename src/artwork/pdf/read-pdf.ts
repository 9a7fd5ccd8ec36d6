import type { PDFDocument } from 'pdf-lib';
import { InputError, type Warning, warningsIf } from '../../errors.js';
import { mapOpenings, scaling } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Opening } from '../../geometry/types.js';
import { WorkBudget } from '../../geometry/work-budget.js';
import { Drawing } from '../paint/drawing.js';
import { scaleFromDistance } from '../paint/known-distance.js';
import { type Canvas, openingsOf } from '../paint/openings-of.js';
import { findSuspicious } from '../suspicious.js';
import type { Artwork, ReadOptions } from '../types.js';
import { ContentInterpreter, type Seen } from './content.js';
import type { PlacedPicture } from './join-strips.js';
import * as objects from './objects.js';
import { drawnAnnotations, hiddenGroups, inherited, pageContent, pageGeometry } from './page.js';
import type { TracedPictures } from './picture.js';
import { loadQuietly, quietly } from './quiet-load.js';
import { damagedPicture, noPage, unreadable } from './refusals.js';
import { renderPage } from './render.js';
import { initialState } from './state.js';
import { DamagedStream, UndecodedStream } from './stream-errors.js';

/** So many pages are looked at when none was chosen. */
const MAX_PAGES_LOOKED_AT = 60;

/** What a page holds; only its size when its content can't be taken apart. */
interface PageContent {
  readonly canvas: Canvas;
  readonly paths?: {
    readonly drawing: Drawing;
    readonly seen: Seen;
    readonly pictures: readonly PlacedPicture[];
  };
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
  const warnings: Warning[] = [];
  if (!hasEnd(bytes)) throw cutOff(options.name);
  const opened = await open(bytes);
  const budget = new WorkBudget();
  const pick = opened && (await quietly(() => budget.run(() => pickPage(opened, options, warnings))));
  const pageIndex = pick?.index ?? (options.page ?? 1) - 1;
  let reason = !opened ? 'its structure is damaged or protected' : pick && unsupportedIn(pick.content);
  const pictures = pick?.content.paths?.pictures ?? [];
  let traced: TracedPictures | undefined;
  if (opened && pick?.content.paths && reason === undefined && pictures.length > 0) {
    const { tracePictures } = await import('./picture.js');
    traced = await tracePictures(pictures, pick.content.paths.drawing.paints).catch((error: unknown) => {
      throw error instanceof DamagedStream ? damagedPicture(error, options.name) : error;
    });
    if (!traced) reason = `it holds ${counted(pictures.length, 'picture')}`;
  }
  if (pick?.content.paths) warnings.push(...wordsAboutLost(pick.content.paths.seen, options.name));
  const polarity = options.polarity ?? 'auto';
  let openings: readonly Opening[];
  let canvas: Canvas;
  if (pick?.content.paths && reason === undefined) {
    const { drawing, seen } = pick.content.paths;
    canvas = pick.content.canvas;
    warnings.push(...wordsAbout(seen, options.name), ...drawing.warnings());
    const paints = traced?.paints ?? drawing.paints;
    const found = budget.run(() => openingsOf(paints, canvas, polarity));
    openings = found.openings;
    if (traced) warnings.push(...wordsAboutPictures(pictures.length, traced, options.name));
    warnings.push(...found.warnings);
  } else {
    const rendered = await renderPage(bytes, pageIndex, pick?.content.canvas, {
      polarity,
      file: options.name,
      pictures: pictures.length > 0 || pick?.content.paths?.seen.unsupported.has('picture'),
    });
    if (!opened && rendered.pageCount > 1 && options.page === undefined) {
      throw notChosen(rendered.pageCount, 'some', options);
    }
    openings = rendered.openings;
    canvas = rendered.canvas;
    warnings.push({
      code: 'PDF_RENDERED',
      place: { file: options.name },
      message: `the page was rendered at ${rendered.dpi} dpi and traced, texts included, because ${reason}.`,
      hint: 'Plot the paste layer as plain vectors for the last micrometre.',
    });
    if (rendered.negative && polarity === 'auto') {
      warnings.push({
        code: 'POLARITY_INFERRED',
        message: 'the artwork is read as a negative: the page is dark along its edges.',
        hint: 'Say --polarity dark if the dark parts are the openings.',
      });
    }
  }
  if (openings.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file: options.name },
      message: `page ${pageIndex + 1} draws no shape, so there is no opening to cut.${warnings.map(({ message }) => ` ${message}`).join('')}`,
      hint: 'Check that this is the paste layer, plotted as filled shapes.',
    });
  }
  const scale = scaleAsked(openings, canvas, options);
  if (scale !== 1) {
    openings = mapOpenings(scaling(scale), openings);
    canvas = { widthMm: canvas.widthMm * scale, heightMm: canvas.heightMm * scale };
  }
  return {
    format: 'pdf',
    openings,
    warnings: [...warnings, ...findSuspicious(openings)],
    canvas,
    bounds: boundsOf(openings),
  };
}

function scaleAsked(openings: readonly Opening[], canvas: Canvas, options: ReadOptions): number {
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

/** Why a page can't be taken as vectors, in words; undefined when it can. */
function unsupportedIn({ paths }: PageContent): string | undefined {
  if (!paths) return 'its content is coded in a way that only the renderer knows';
  const kinds = [...paths.seen.unsupported].map(([what, count]) => counted(count, what));
  return kinds.length > 0 ? `it holds ${kinds.join(' and ')}` : undefined;
}

const counted = (count: number, what: string): string => `${count} ${what}${count === 1 ? '' : 's'}`;

function wordsAboutPictures(count: number, { dpi, blank, cutOff }: TracedPictures, file?: string): Warning[] {
  const of = dpi === undefined ? 'of one colour each' : `of ${Math.round(dpi)} dpi`;
  return warningsIf(file, [
    [
      count,
      'PICTURE_TRACED',
      `the page holds ${counted(count, 'picture')} ${of}; what is dark in it was traced.`,
      'Plot the paste layer as plain vectors for the last micrometre.',
    ],
    [
      cutOff,
      'PICTURE_CUT_OFF',
      `the data of ${counted(cutOff, 'picture')} lack the mark at their end, so rows may be missing.`,
      'Compare the openings with what a viewer shows, down to the lowest ones.',
    ],
    [
      blank,
      'PICTURE_BLANK',
      `${counted(blank, 'picture')} came out in one colour all over, as damaged ones do.`,
      'Compare the openings with what a viewer shows.',
    ],
  ]);
}

function pickPage(
  document: PDFDocument,
  options: ReadOptions,
  warnings: Warning[],
): { index: number; content: PageContent } {
  const pages = document.getPages();
  const hidden = hiddenGroups(document);
  const look = (index: number): PageContent => {
    const page = pages[index];
    const geometry = pageGeometry(page);
    if (!geometry) throw unreadable(options.name);
    const drawing = new Drawing(options.name);
    const interpreter = new ContentInterpreter(drawing, hidden, options.name);
    try {
      const resources = objects.asDict(inherited(page, 'Resources'));
      interpreter.run(pageContent(page), resources, initialState(geometry.map));
      interpreter.seen.annotations = drawnAnnotations(page, (group) => interpreter.isOff(group));
    } catch (error) {
      if (error instanceof UndecodedStream) return { canvas: geometry.canvas };
      if (error instanceof InputError) throw error;
      throw unreadable(options.name, error);
    }
    return { canvas: geometry.canvas, paths: { drawing, seen: interpreter.seen, pictures: interpreter.pictures } };
  };
  if (options.page !== undefined) {
    if (options.page > pages.length || options.page < 1) throw noPage(options.page, pages.length, options.name);
    return { index: options.page - 1, content: look(options.page - 1) };
  }
  if (pages.length === 1) return { index: 0, content: look(0) };
  const looked = pages.slice(0, MAX_PAGES_LOOKED_AT).map((_, index) => ({ index, content: look(index) }));
  const drawn = looked.filter(
    ({ content: { paths } }) =>
      !paths || paths.drawing.paints.length > 0 || paths.pictures.length > 0 || paths.seen.unsupported.size > 0,
  );
  if (drawn.length !== 1 || pages.length > MAX_PAGES_LOOKED_AT) {
    const list = drawn.map(
      ({ index, content }) => `${index + 1} (${content.paths?.drawing.paints.length ?? '?'} shapes)`,
    );
    throw notChosen(pages.length, list.join(', ') || 'none', options);
  }
  warnings.push({
    code: 'PAGE_TAKEN',
    place: { file: options.name },
    message: `of ${pages.length} pages only page ${drawn[0].index + 1} draws anything; it was taken.`,
  });
  return drawn[0];
}

function notChosen(pageCount: number, drawing: string, options: ReadOptions): InputError {
  return new InputError({
    code: 'PAGE_NOT_CHOSEN',
    place: { file: options.name, key: 'page' },
    message: `the PDF has ${pageCount} pages; these draw something: ${drawing}.`,
    hint: 'Say which one with --page.',
  });
}

function wordsAbout({ texts, unknown, hairlines, saved }: Seen, file?: string): Warning[] {
  const names = [...unknown].slice(0, 8).join(' ');
  return warningsIf(file, [
    [texts, 'TEXT_LEFT_OUT', `${texts} piece(s) of text were left out: they are no openings.`],
    [
      unknown.size,
      'PDF_OPERATOR',
      `the page holds operators that the standard does not know; they were passed over: ${names}.`,
    ],
    [
      hairlines,
      'HAIRLINES',
      `${hairlines} line(s) have a width of 0 ("as thin as can be drawn"); they are read as 0.01 mm wide.`,
    ],
    [
      saved,
      'PDF_ENDS_EARLY',
      'the content of the page does not close what it opens (q without Q), so it may lack its end.',
      'Compare the openings with what they should be.',
    ],
  ]);
}

/** Whatever becomes of the page, the renderer leaves these out too. */
function wordsAboutLost({ missing, annotations }: Seen, file?: string): Warning[] {
  return warningsIf(file, [
    [
      annotations,
      'ANNOTATION_LEFT_OUT',
      `${counted(annotations, 'annotation')} that viewers draw upon the page ${annotations === 1 ? 'was' : 'were'} left out.`,
      'Print the page into a new PDF if they belong to it.',
    ],
    [
      missing.size,
      'PDF_MISSING',
      `the page asks for what is not in the file, so something may be missing: ${[...missing].slice(0, 8).join(' ')}.`,
      'Compare the openings with what a viewer shows.',
    ],
  ]);
}

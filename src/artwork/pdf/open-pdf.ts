import { ParseSpeeds, PDFDocument } from 'pdf-lib';
import { InputError } from '../../errors.js';
import { count } from '../../text.js';

/** How the lines begin that the parser writes on the console about damaged files. */
const PARSER_SAYS =
  /^(Removing parsed object|Parsed number that is too large|Trying to parse invalid|Invalid object ref)/;

let loading = 0;
let original = console.warn;
/** The console's own, but for those lines. */
const filtered = (...words: unknown[]): void => {
  if (!PARSER_SAYS.test(String(words[0]))) original(...words);
};

/**
 * Works without the parser's own lines on the console: it has no switch for them. Other lines pass, and any number of
 * files may be worked on at the same time.
 */
export async function quietly<T>(work: () => T | Promise<T>): Promise<T> {
  loading += 1;
  if (loading === 1) {
    original = console.warn;
    console.warn = filtered;
  }
  try {
    return await work();
  } finally {
    loading -= 1;
    if (loading === 0 && console.warn === filtered) console.warn = original;
  }
}

/** Takes a file apart. */
export const loadQuietly = (bytes: Uint8Array): Promise<PDFDocument> =>
  quietly(() =>
    PDFDocument.load(bytes, {
      ignoreEncryption: true,
      parseSpeed: ParseSpeeds.Fastest,
      updateMetadata: false,
      // It would be left out otherwise.
      throwOnInvalidObject: true,
    }),
  );

export function noPage(page: number, pageCount: number, file: string | undefined): InputError {
  return new InputError({
    code: 'PAGE_UNKNOWN',
    place: { file, key: 'page' },
    message: `page ${page} was asked for, but the PDF has ${count(pageCount, 'page')}.`,
    hint: 'Pages count from 1.',
  });
}

export function unreadable(file: string | undefined, cause?: unknown): InputError {
  return new InputError(
    {
      code: 'PDF_BROKEN',
      place: { file },
      message: 'the PDF is damaged, cut off or protected by a password.',
      hint: 'Export it again without protection, or give the Gerber layer.',
    },
    { cause },
  );
}

/** A picture that is shown as far as it goes would lack openings without a word. */
export function damagedPicture(cause: Error, file: string | undefined): InputError {
  return new InputError(
    {
      code: 'PDF_BROKEN',
      place: { file },
      message: `a picture on the page is damaged or ends early (${cause.message}).`,
      hint: 'Export it again.',
    },
    { cause },
  );
}

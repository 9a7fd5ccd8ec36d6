import type { PDFDocument } from 'pdf-lib';
import type { PdfLib } from './objects.js';

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
 * Takes a file apart without the parser's own lines on the console: it has no switch for them. Other lines pass, and
 * any number of files may be loaded at the same time.
 */
export async function loadQuietly(lib: PdfLib, bytes: Uint8Array): Promise<PDFDocument> {
  loading += 1;
  if (loading === 1) {
    original = console.warn;
    console.warn = filtered;
  }
  try {
    return await lib.PDFDocument.load(bytes, {
      ignoreEncryption: true,
      parseSpeed: lib.ParseSpeeds.Fastest,
      updateMetadata: false,
      // It would be left out otherwise.
      throwOnInvalidObject: true,
    });
  } finally {
    loading -= 1;
    if (loading === 0 && console.warn === filtered) console.warn = original;
  }
}

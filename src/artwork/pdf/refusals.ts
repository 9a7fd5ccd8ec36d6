import { InputError } from '../../errors.js';
import { count } from '../../text.js';

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

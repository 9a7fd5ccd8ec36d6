/** A letter and the number after it, as `X` and `-2500`. */
export interface Word {
  readonly letter: string;
  readonly digits: string;
}

/**
 * Splits a function code command into words: `G01X100Y-20D01`. Spaces between them mean nothing, letters may be small.
 *
 * @returns undefined when it holds anything else
 */
export function splitWords(text: string): Word[] | undefined {
  const words: Word[] = [];
  let at = 0;
  const end = text.length;
  while (at < end) {
    let code = text.charCodeAt(at);
    if (isBlank(code)) {
      at += 1;
      continue;
    }
    if (code >= 97) code -= 32;
    if (code < 65 || code > 90) return undefined;
    at += 1;
    while (at < end && isBlank(text.charCodeAt(at))) at += 1;
    const start = at;
    while (at < end && isNumeric(text.charCodeAt(at), at === start)) at += 1;
    words.push({ letter: String.fromCharCode(code), digits: text.slice(start, at) });
  }
  return words;
}

const isBlank = (code: number): boolean => code === 32 || (code >= 9 && code <= 13);

/** Digits and the point; a sign only at the front. */
const isNumeric = (code: number, first: boolean): boolean =>
  (code >= 48 && code <= 57) || code === 46 || (first && (code === 43 || code === 45));

/*
 * Names and attributes come out of files that anybody may have made. What moves a cursor, colours a line, turns the
 * direction of reading or can't be seen is shown as \uXXXX: a terminal obeys nothing, and JSON reads it as what it was.
 */

/** Control characters (C0, DEL, C1), format characters (bidirectional marks, zero widths), line and paragraph separators. */
const HIDDEN = /[\p{Cc}\p{Cf}\u2028\u2029]/gu;
const HIDDEN_IN_LINES = /(?![\n\t])[\p{Cc}\p{Cf}\u2028\u2029]/gu;

function escaped(character: string): string {
  let text = '';
  for (let i = 0; i < character.length; i += 1) text += `\\u${character.charCodeAt(i).toString(16).padStart(4, '0')}`;
  return text;
}

/** A text on one line, with everything that can't be seen written as `\uXXXX` (Unicode categories Cc, Cf, Zl, Zp). */
export function visible(text: string): string {
  return text.replace(HIDDEN, escaped);
}

/** The same for text of several lines: line feeds and tabs stay. */
export function visibleLines(text: string): string {
  // Long lists of numbers are looked at quickly.
  if (/^[\n\t\x20-\x7e]*$/.test(text)) return text;
  return text.replace(HIDDEN_IN_LINES, escaped);
}

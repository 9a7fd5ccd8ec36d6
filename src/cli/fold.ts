import { wrapWords } from '../wrap-words.js';

/** What stands before the words of a line: spaces, "12. ", "type in   ", "warning: ". */
const HEAD = /^\s*(?:\d+\.\s+|[a-z]+: |\S+(?: \S+){0,2}\s{2,})?/;
/** To be pasted as they stand, or drawn anew: not to be broken. */
const WHOLE = /[\r\u001b]|^\s*(next: )?apertrue |^(wrote|settings from) | {3,}\S+ {2,}\S/;

/** Long lines of words folded between words, so that a terminal doesn't break them within; tables and commands stay. */
export function foldLines(text: string, columns: number): string {
  return text
    .split('\n')
    .map((line) => (line.length <= columns || WHOLE.test(line) ? line : foldLine(line, columns)))
    .join('\n');
}

function foldLine(line: string, columns: number): string {
  const head = HEAD.exec(line)?.[0] ?? '';
  // The end of what is asked stays as it is: the answer is typed behind it.
  const [, words, tail] = /^([\s\S]*?)(\s*)$/.exec(line.slice(head.length)) ?? ['', '', ''];
  const indent = ' '.repeat(/^[a-z]+: $/.test(head) ? 2 : Math.min(head.length, 16));
  const before = (i: number): string => (i === 0 ? head : indent);
  const lines = wrapWords(words, (part, i) => before(i).length + part.length <= columns);
  return `${lines.map((part, i) => before(i) + part).join('\n')}${tail}`;
}

/** Help as it was written, its paragraphs filled to so many columns. */
export function fillParagraphs(text: string, columns: number): string {
  const lines: string[] = [];
  for (const line of text.split('\n')) {
    const last = lines.at(-1) ?? '';
    const goesOn = /^\S/.test(line) && /^\S/.test(last) && !last.endsWith(':') && !/^Exit codes:/.test(line);
    if (goesOn) lines[lines.length - 1] = `${last} ${line}`;
    else lines.push(line);
  }
  return foldLines(lines.join('\n'), columns);
}

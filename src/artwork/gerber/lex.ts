import type { Diagnostics } from '../paint/diagnostics.js';

/** One command of a layer: what stood before its `*`, without line ends. */
export interface Command {
  readonly text: string;
  /** Line on which it begins, from 1. */
  readonly line: number;
  /** Whether it stood between percent signs. */
  readonly extended: boolean;
  /** For an aperture macro: the words of its body. */
  readonly body?: readonly Command[];
}

/** Between commands blanks, line ends and stars mean nothing. */
const BEGIN = /[^ \t\r\n*\ufeff]/g;
/** A command ends with its star; a percent sign ends it, too. */
const END = /[*%]/g;
/** A comment may hold a percent sign; one that begins a line means that the comment's star was lost. */
const COMMENT_END = /\*|(?<=[\r\n])%/g;

/** Decodes a layer's bytes: UTF-8 or ASCII, UTF-16 with a byte order mark, padding at the end dropped. */
export function decodeLayer(bytes: Uint8Array): string {
  const encoding =
    bytes[0] === 0xff && bytes[1] === 0xfe ? 'utf-16le' : bytes[0] === 0xfe && bytes[1] === 0xff ? 'utf-16be' : 'utf-8';
  const text = new TextDecoder(encoding).decode(bytes);
  let from = 0;
  while (text.charCodeAt(from) === 0) from += 1;
  let to = text.length;
  while (to > from && isPadding(text.charCodeAt(to - 1))) to -= 1;
  return `${text.slice(from, to)}\n`;
}

/** NUL, the end of a file as Ctrl-Z, and blanks. */
const isPadding = (code: number): boolean => code === 0 || code === 26 || code === 32 || (code >= 9 && code <= 13);

/**
 * Splits a layer into commands. Line ends (LF, CR, CRLF or none) mean nothing but line numbers. A file that stops in
 * the middle of a command is an error, for what is missing can't be known.
 */
export function lexGerber(text: string, notes: Diagnostics): Command[] {
  const commands: Command[] = [];
  let at = 0;
  let inBlock = false;
  let blockLine = 1;
  let macro: { text: string; line: number; body: Command[] } | undefined;
  let ended = false;
  const lineAt = lineCounter(text);

  const closeMacro = (): void => {
    if (macro) commands.push({ text: macro.text, line: macro.line, extended: true, body: macro.body });
    macro = undefined;
  };
  const take = (text: string, line: number): void => {
    if (text !== '') commands.push({ text, line, extended: inBlock });
    if (LAST_COMMAND.test(text)) ended = true;
  };
  const emit = (raw: string, startLine: number, comment: boolean): void => {
    // A body has numbers and variables only: letters begin the next command of the same block.
    if (macro && /^\s*[a-z]{2}/i.test(raw)) closeMacro();
    if (macro) {
      macro.body.push({ text: raw, line: startLine, extended: true });
      return;
    }
    if (inBlock && /^\s*am/i.test(raw)) {
      macro = { text: oneLine(raw).trim(), line: startLine, body: [] };
      return;
    }
    if (comment) for (const part of splitComment(raw, startLine, notes)) take(part.text, part.line);
    else take(oneLine(raw).trim(), startLine);
  };
  const next = (pattern: RegExp): number => {
    pattern.lastIndex = at;
    return pattern.exec(text)?.index ?? text.length;
  };

  for (at = next(BEGIN); at < text.length; at = next(BEGIN)) {
    const startLine = lineAt(at);
    notes.line = startLine;
    if (text[at] === '%') {
      closeMacro();
      inBlock = !inBlock;
      blockLine = startLine;
      at += 1;
      continue;
    }
    const comment = !inBlock && isComment(text.slice(at, at + 8));
    const start = at;
    at = next(comment ? COMMENT_END : END);
    const raw = text.slice(start, at);
    if (at === text.length) {
      if (ended || comment) return commands;
      notes.fail(
        'FILE_CUT_OFF',
        `the file ends in the middle of a command: "${shorten(raw)}".`,
        'Export or copy the file again.',
      );
      return commands;
    }
    if (text[at] === '%' && !ended) {
      notes.warn('STAR_MISSING', `"${shorten(raw)}" has no "*" at its end; read as if it had.`);
    }
    emit(raw, startLine, comment);
  }
  notes.line = blockLine;
  if (inBlock && ended) {
    notes.warnOnce('PERCENT_MISSING', 'the percent signs do not come in pairs; one was lost before here.');
  } else if (inBlock) {
    notes.fail(
      'FILE_CUT_OFF',
      'a block that begins with "%" is not closed before the file ends.',
      'Export or copy the file again.',
    );
  }
  closeMacro();
  return commands;
}

/** Tells the line of a place; places only grow. */
function lineCounter(text: string): (place: number) => number {
  let [line, at] = [1, 0];
  return (place) => {
    for (; at < place; at += 1) if (text[at] === '\n' || (text[at] === '\r' && text[at + 1] !== '\n')) line += 1;
    return line;
  };
}

const LAST_COMMAND = /^M(?:0*[02]|30)$/i;

const isComment = (text: string): boolean => /^g0*4(?!\d)/i.test(text);

const oneLine = (raw: string): string => raw.replaceAll(/[\r\n]+/g, '');

/** A comment may run over several lines; one that ends in what can only be a command has lost its star. */
function splitComment(raw: string, line: number, notes: Diagnostics): { text: string; line: number }[] {
  const lines = raw.split(/\r\n|\r|\n/);
  let from = lines.length;
  while (from > 1 && COMMAND_LINE.test(lines[from - 1].trim())) from -= 1;
  const comment = { text: lines.slice(0, from).join(' ').trim(), line };
  if (from === lines.length) return [comment];
  notes.warn('STAR_MISSING', 'a comment has no "*" at its end, and a command follows it; read as two.');
  return [comment, ...lines.slice(from).map((text, i) => ({ text: text.trim(), line: line + from + i }))];
}

/** Function codes and coordinates and nothing else. */
const COMMAND_LINE = /^(?:[GDM]\d{1,4}|[XYIJ][+-]?\d+)+$/;

/** A command as it may be shown in a message. */
export function shorten(text: string): string {
  const clean = text.replace(/[^\x20-\x7e\u00a0-\uffff]+/g, ' ').trim();
  return clean.length > 40 ? `${clean.slice(0, 40)}…` : clean;
}

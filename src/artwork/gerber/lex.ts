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

const STAR = 42;
const PERCENT = 37;
const LF = 10;
const CR = 13;

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
  const end = text.length;
  let at = 0;
  let line = 1;
  let inBlock = false;
  let blockLine = 1;
  let macro: { text: string; line: number; body: Command[] } | undefined;
  let ended = false;

  const closeMacro = (): void => {
    if (macro) commands.push({ text: macro.text, line: macro.line, extended: true, body: macro.body });
    macro = undefined;
  };
  const take = (text: string, line: number): void => {
    if (text !== '') commands.push({ text, line, extended: inBlock });
    if (END.test(text)) ended = true;
  };
  const emit = (raw: string, startLine: number): void => {
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
    if (!LINE_END.test(raw)) take(raw.trim(), startLine);
    else for (const { text, line } of splitAtLostStar(raw, startLine, notes)) take(text, line);
  };

  while (at < end) {
    const code = text.charCodeAt(at);
    if (code === LF || code === CR) {
      if (code === CR && text.charCodeAt(at + 1) === LF) at += 1;
      line += 1;
      at += 1;
      continue;
    }
    if (code === 32 || code === 9 || code === STAR || code === 0xfeff) {
      at += 1;
      continue;
    }
    if (code === PERCENT) {
      closeMacro();
      inBlock = !inBlock;
      blockLine = line;
      at += 1;
      continue;
    }
    const start = at;
    const startLine = line;
    const comment = !inBlock && isComment(text, at);
    let lineStart = false;
    let stop = 0;
    for (; at < end; at += 1) {
      const c = text.charCodeAt(at);
      if (c === STAR) {
        stop = STAR;
        break;
      }
      // A comment may hold a percent sign; one that begins a line means that the comment's star was lost.
      if (c === PERCENT && (!comment || lineStart)) {
        stop = PERCENT;
        break;
      }
      if (c === LF || (c === CR && text.charCodeAt(at + 1) !== LF)) {
        line += 1;
        lineStart = true;
      } else if (c !== CR) lineStart = false;
    }
    const raw = text.slice(start, at);
    if (stop === 0) {
      if (!ended && !comment) {
        notes.fail(
          'FILE_CUT_OFF',
          startLine,
          `the file ends in the middle of a command: "${shorten(raw)}".`,
          'Export or copy the file again.',
        );
      }
      return commands;
    }
    if (stop === PERCENT && !ended) {
      notes.warn('STAR_MISSING', startLine, `"${shorten(raw)}" has no "*" at its end; read as if it had.`);
    }
    emit(raw, startLine);
    if (stop === STAR) at += 1;
  }
  if (inBlock && ended) {
    notes.warnOnce('PERCENT_MISSING', blockLine, 'the percent signs do not come in pairs; one was lost before here.');
  } else if (inBlock) {
    notes.fail(
      'FILE_CUT_OFF',
      blockLine,
      'a block that begins with "%" is not closed before the file ends.',
      'Export or copy the file again.',
    );
  }
  closeMacro();
  return commands;
}

const LINE_END = /[\r\n]/;
const END = /^M(?:0*[02]|30)$/i;

function isComment(text: string, at: number): boolean {
  return (text[at] === 'G' || text[at] === 'g') && /^g0*4(?!\d)/i.test(text.slice(at, at + 8));
}

function oneLine(raw: string): string {
  return raw.replace(/[\r\n]+/g, '');
}

/** Two operations on two lines with the star lost between them are two commands. */
function splitAtLostStar(raw: string, line: number, notes: Diagnostics): { text: string; line: number }[] {
  const lost = /(D0?[123])[ \t]*(?:\r\n|\r|\n)(?=[XYGDM])/gi;
  if (isComment(raw.trimStart(), 0)) return splitComment(raw, line, notes);
  if (!lost.test(raw)) return [{ text: oneLine(raw).trim(), line }];
  notes.warn('STAR_MISSING', line, 'an operation has no "*" at the end of its line; read as if it had.');
  const parts = raw.replace(lost, '$1*').split('*');
  return parts.map((part, i) => ({ text: oneLine(part).trim(), line: line + i }));
}

/** A comment may run over several lines; one that ends in what can only be a command has lost its star. */
function splitComment(raw: string, line: number, notes: Diagnostics): { text: string; line: number }[] {
  const lines = raw.split(/\r\n|\r|\n/);
  let from = lines.length;
  while (from > 1 && COMMAND_LINE.test(lines[from - 1].trim())) from -= 1;
  const comment = { text: lines.slice(0, from).join(' ').trim(), line };
  if (from === lines.length) return [comment];
  notes.warn('STAR_MISSING', line, 'a comment has no "*" at its end, and a command follows it; read as two.');
  return [comment, ...lines.slice(from).map((text, i) => ({ text: text.trim(), line: line + from + i }))];
}

/** Function codes and coordinates and nothing else. */
const COMMAND_LINE = /^(?:[GDM]\d{1,4}|[XYIJ][+-]?\d+)+$/;

/** A command as it may be shown in a message. */
export function shorten(text: string): string {
  const clean = text.replace(/[^\x20-\x7e\u00a0-\uffff]+/g, ' ').trim();
  return clean.length > 40 ? `${clean.slice(0, 40)}…` : clean;
}

/** One row of a CSV text: its cells, trimmed, and the line (from 1) on which it starts. */
export interface CsvRow {
  readonly line: number;
  readonly cells: readonly string[];
  /** A quote was opened and never closed. */
  readonly openQuote?: boolean;
}

/**
 * Splits a CSV text into rows after RFC 4180, plus what spreadsheets and people do: CR, LF or both; a byte order mark;
 * any delimiter; lines that start with # are left out; empty lines too. A quote inside an unquoted cell is a plain
 * character (0.5" is a length).
 *
 * csv-parse takes 0.1 s to import and can't tell these apart without more code than this; the tests compare the two.
 */
export function csvRows(text: string, delimiter: string): CsvRow[] {
  const rows: CsvRow[] = [];
  let line = 1;
  let at = text.startsWith('\uFEFF') ? 1 : 0;
  const end = text.length;
  while (at < end) {
    const firstLine = line;
    if (/^[ ]*#/.test(text.slice(at, at + 80))) {
      while (at < end && text[at] !== '\n' && text[at] !== '\r') at += 1;
      skipBreak();
      continue;
    }
    const cells: string[] = [];
    let openQuote = false;
    for (;;) {
      const cell = readCell();
      cells.push(cell.text);
      openQuote = openQuote || cell.openQuote;
      if (text[at] !== delimiter) break;
      at += 1;
    }
    skipBreak();
    if (cells.some((cell) => cell !== '')) rows.push({ line: firstLine, cells, ...(openQuote ? { openQuote } : {}) });
  }
  return rows;

  function skipBreak(): void {
    if (at >= end) return;
    if (text[at] === '\r' && text[at + 1] === '\n') at += 1;
    at += 1;
    line += 1;
  }

  function readCell(): { text: string; openQuote: boolean } {
    while (text[at] === ' ' || (text[at] === '\t' && delimiter !== '\t')) at += 1;
    if (text[at] !== '"') return { text: plainUntil(), openQuote: false };
    at += 1;
    let cell = '';
    while (at < end) {
      if (text[at] === '"') {
        if (text[at + 1] !== '"') break;
        at += 1;
      } else if (text[at] === '\n' || (text[at] === '\r' && text[at + 1] !== '\n')) line += 1;
      cell += text[at];
      at += 1;
    }
    const openQuote = at >= end;
    at += 1;
    return { text: (cell.trim() + plainUntil()).trim(), openQuote };
  }

  function plainUntil(): string {
    const start = at;
    while (at < end && text[at] !== delimiter && text[at] !== '\n' && text[at] !== '\r') at += 1;
    return text.slice(start, at).trim();
  }
}

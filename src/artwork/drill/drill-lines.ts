/** One line of a drill program. */
export interface DrillLine {
  readonly text: string;
  /** Counting from 1. */
  readonly line: number;
  readonly comment: boolean;
}

/** Splits a program into lines; commands come in capitals and without spaces, comments as they are. */
export function drillLines(text: string): DrillLine[] {
  return text.split(/\r\n|\r|\n/).flatMap((raw, i): DrillLine[] => {
    const trimmed = raw.trim();
    if (trimmed === '') return [];
    const comment = trimmed.startsWith(';');
    // XNC and others also put comments behind a command.
    const command = comment
      ? trimmed
      : trimmed
          .replace(/\s*;.*$/, '')
          .toUpperCase()
          .replace(/\s+/g, '');
    return [{ text: command, line: i + 1, comment }];
  });
}

/** The digits after a letter in a command, as `-250` after `Y`; undefined when the letter is not there. */
export function digitsAfter(text: string, letter: string): string | undefined {
  const at = text.indexOf(letter);
  if (at < 0) return undefined;
  return /^[+-]?[\d.]*(?:E[+-]?\d*)?/.exec(text.slice(at + 1))?.[0];
}

import { foldLines } from './fold.js';
import type { Io } from './io.js';

/** Foreground colours by severity: red, yellow, magenta, dim (ECMA-48, Select Graphic Rendition). */
const SGR: Readonly<Record<string, string>> = { error: '31;1', warning: '33', caution: '35', note: '2', hint: '2' };

/** Lines that only say that all went well. */
const QUIET = /^(wrote |note: |hint: |settings from |next: ).*\n/gm;

/**
 * The same world with coloured severities, long lines folded for a terminal, or without the words that only say that all
 * went well.
 *
 * @param isData - what is printed is for another program
 */
export function withWords(
  io: Io,
  { quiet, isData = false }: { readonly quiet: boolean; readonly isData?: boolean },
): Io {
  const said = (text: string): string => {
    const kept = quiet ? text.replace(QUIET, '') : text;
    const folded = io.isTerminal ? foldLines(kept, io.columns) : kept;
    if (!io.colours) return folded;
    return folded.replace(
      /^(error|warning|caution|note|hint):/gm,
      (word, kind: string) => `\u001b[${SGR[kind]}m${word}\u001b[0m`,
    );
  };
  const { outColumns } = io;
  return {
    ...io,
    say: (text) => void (said(text) === '' || io.say(said(text))),
    ...(outColumns === undefined || isData ? {} : { out: (text: string) => io.out(foldLines(text, outColumns)) }),
  };
}

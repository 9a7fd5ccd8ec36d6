import { readArtwork } from '../artwork/read.js';
import type { Artwork, ReadOptions } from '../artwork/types.js';
import { visible } from '../visible-text.js';
import { collectArtwork } from './collect-artwork.js';
import { refuseDropOfMany } from './dropped-openings.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { problemsOf } from './failure.js';
import type { Io } from './io.js';
import { type ArtworkOptionValues, readOptionsOf } from './options/shared.js';
import { printJson, progressOf, sayProblems } from './tell.js';
import { refuseIdleArtworkOptions } from './unused-options.js';

/** A paste layer as read, from a file of its own or out of an archive. */
export interface ReadLayer {
  readonly file: string;
  /** For the names of results: the file's name without its ending, made different where two share it. */
  readonly stem: string;
  readonly bytes: Uint8Array;
  readonly artwork: Artwork;
}

/** What working on several layers came to. */
export interface Worked<T> {
  readonly results: readonly T[];
  /** Patterns, archives and layers that could not be worked with; each has been told of. */
  readonly failed: number;
}

/**
 * Reads layers one after another and works on each. One that can't be worked with is told of and does not end the others.
 *
 * @param patterns - files, globs, and archives, whose paste layers count one by one
 * @param read - the reader, where artwork without a size is read as well
 */
export async function eachArtwork<T>(
  patterns: readonly string[],
  values: ArtworkOptionValues & { readonly drop?: readonly number[] },
  io: Io,
  work: (layer: ReadLayer) => Promise<T>,
  read: (bytes: Uint8Array, options: ReadOptions) => Promise<Artwork> = readArtwork,
): Promise<Worked<T>> {
  const { pending, failed: unread } = await collectArtwork(patterns, io);
  refuseIdleArtworkOptions(values, pending, io);
  refuseDropOfMany(values.drop, pending.length);
  const step = progressOf(io, 'working on file', pending.length);
  const results: T[] = [];
  let failed = unread;
  for (const { file, stem, jobFunction, load } of pending) {
    try {
      const { bytes } = await load();
      const artwork = await read(bytes, readOptionsOf(values, file, jobFunction));
      results.push(await work({ file, stem, bytes, artwork }));
    } catch (error) {
      failed += 1;
      sayProblems(problemsOf(error, file), io);
    }
    step();
  }
  return { results, failed };
}

/** The exit code of a command that worked on several layers. */
export function exitOf({ results, failed }: Worked<unknown>, findings: boolean): ExitCode {
  if (results.length === 0) return EXIT.badInput;
  if (failed > 0) return EXIT.someFailed;
  return findings ? EXIT.findings : EXIT.done;
}

/** Tells what came out of each layer: as one JSON value, or in words, below its name where there are several. */
export function tellEach<T extends { readonly file: string }>(
  results: readonly T[],
  { json: asJson }: { readonly json?: boolean },
  io: Io,
  { json, words }: { readonly json: (one: T) => unknown; readonly words: (one: T) => void },
): void {
  const isOne = results.length === 1;
  if (asJson && results.length > 0) printJson(isOne ? json(results[0]) : results.map(json), io);
  if (asJson) return;
  for (const one of results) {
    if (!isOne) io.out(`${visible(one.file)}\n`);
    words(one);
    if (!isOne) io.out('\n');
  }
}

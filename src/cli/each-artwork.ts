import { readArtwork } from '../artwork/read.js';
import type { Artwork, ReadOptions } from '../artwork/types.js';
import { visible } from '../text.js';
import { collectArtwork, type Pending } from './collect-artwork.js';
import { refuseDropOfMany } from './dropped-openings.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { problemsOf } from './file-problem.js';
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

type FileValues = ArtworkOptionValues & { readonly drop?: readonly number[] };

/** Ways of working that may be under way at once, in the order in which they are given the first files. */
export interface Lanes<L> {
  readonly lanes: readonly L[];
  close(): Promise<void>;
}

/**
 * Works on files one after another in each lane. One that can't be worked with is told of and does not end the others.
 *
 * @param patterns - files, globs, and archives, whose paste layers count one by one
 * @param doing - for the progress: "correcting file"
 * @param open - the lanes, for so many files
 * @returns results in the order of the files
 */
export async function eachFile<T, L>(
  patterns: readonly string[],
  values: FileValues,
  io: Io,
  doing: string,
  work: (item: Pending, lane: L) => Promise<T>,
  open: (files: number) => Promise<Lanes<L>>,
): Promise<Worked<T>> {
  const { pending, failed: unread } = await collectArtwork(patterns, io);
  refuseIdleArtworkOptions(values, pending, io);
  refuseDropOfMany(values.drop, pending.length);
  const step = progressOf(io, doing, pending.length);
  const results = new Map<number, T>();
  let next = 0;
  const { lanes, close } = await open(pending.length);
  const go = async (lane: L): Promise<void> => {
    while (next < pending.length) {
      const i = next;
      next += 1;
      try {
        results.set(i, await work(pending[i], lane));
      } catch (error) {
        sayProblems(problemsOf(error, pending[i].file), io);
      }
      step();
    }
  };
  try {
    await Promise.all(lanes.map(go));
  } finally {
    await close();
  }
  const inOrder = pending.flatMap((_, i) => (results.has(i) ? [results.get(i) as T] : []));
  return { results: inOrder, failed: unread + pending.length - inOrder.length };
}

/** Reads layers one after another and works on each. @param read - the reader, where artwork without a size is read as well */
export function eachArtwork<T>(
  patterns: readonly string[],
  values: FileValues,
  io: Io,
  work: (layer: ReadLayer) => Promise<T>,
  read: (bytes: Uint8Array, options: ReadOptions) => Promise<Artwork> = readArtwork,
): Promise<Worked<T>> {
  const readAndWork = async ({ file, stem, jobFunction, load }: Pending): Promise<T> => {
    const { bytes } = await load();
    return work({ file, stem, bytes, artwork: await read(bytes, readOptionsOf(values, file, jobFunction)) });
  };
  const one = async () => ({ lanes: [undefined], close: async () => undefined });
  return eachFile(patterns, values, io, 'working on file', readAndWork, one);
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

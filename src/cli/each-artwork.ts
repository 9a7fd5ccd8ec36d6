import { basename, dirname, resolve } from 'node:path';
import { readArtwork, type Sniffed, sniff } from '../artwork/read.js';
import type { Artwork, ReadOptions } from '../artwork/types.js';
import { formatProblem, InputError, type Problem, refuseAll, type Warning } from '../errors.js';
import { grouped, listIn } from '../kept.js';
import { count, runsOf, visible } from '../text.js';
import { EXIT, type ExitCode } from './exit-codes.js';
import { problemsOf } from './file-problem.js';
import type { Io } from './io.js';
import { flagOf, idleOption } from './options/option.js';
import { type ArtworkOptionValues, readOptionsOf } from './options/shared.js';
import { takenOnce } from './results.js';
import { printJson, progressOf, sayProblems, sayWarnings } from './tell.js';

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
  let unread = 0;
  const named = await layersNamed(patterns, io, (error, name) => {
    unread += 1;
    sayProblems(problemsOf(error, name), io);
  });
  const pending = takenOnce(named, ({ file }) => file, io);
  refuseIdleArtworkOptions(values, pending, io);
  refuseDropOfMany(values.drop, pending.length);
  const step = progressOf(io, doing, pending.length);
  const results: T[] = [];
  let next = 0;
  const { lanes, close } = await open(pending.length);
  const go = async (lane: L): Promise<void> => {
    while (next < pending.length) {
      const i = next;
      next += 1;
      try {
        results[i] = await work(pending[i], lane);
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
  // Those of files that failed are holes.
  const done = Object.values(results);
  return { results: done, failed: unread + pending.length - done.length };
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

/** The exit code of a command that worked on several layers. @param findings - besides grave warnings that were said */
export function exitOf({ results, failed }: Worked<unknown>, findings = false): ExitCode {
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

/** A file to be worked on, not yet read: a batch of large images must not lie in memory together. */
export interface Pending {
  readonly file: string;
  readonly stem: string;
  /** What its content begins like. */
  readonly format: Sniffed;
  readonly load: () => Promise<{ bytes: Uint8Array }>;
  /** What a job file in the same archive says of it. */
  readonly jobFunction?: string;
  /** The board's outline in the same archive. */
  readonly outline?: { readonly file: string; readonly bytes: Uint8Array };
}

/** With what its results are called by: its name, and the folder that it lies in. */
interface Named extends Pending {
  readonly name: string;
  readonly folder: string;
}

/** What nobody can see is left out of a name, and what some system forbids in names of files becomes a dash. */
const forAnySystem = (name: string): string =>
  name.replace(/[\p{Cc}\p{Cf}\u2028\u2029]/gu, '').replace(/[<>:"/\\|?*]/g, '-');

const nothingAt = (pattern: string): InputError => {
  const hint = 'Check the folder; put globs in quotes.';
  return new InputError({ code: 'NO_FILES', place: { file: pattern }, message: 'no file matches it.', hint });
};

/**
 * The layers that are named, in their order, one that is named twice twice.
 *
 * @param refused - is told what can't be found or, of archives, read
 */
export async function layersNamed(
  patterns: readonly string[],
  io: Io,
  refused: (error: unknown, name: string) => void,
): Promise<Pending[]> {
  const known = new Map<string, readonly Named[]>();
  const named: Named[] = [];
  for (const pattern of patterns) {
    const found = await io.expand(pattern);
    if (found.length === 0) refused(nothingAt(pattern), pattern);
    for (const file of found) {
      // However a file is written, it is the same one.
      const path = resolve(io.cwd, file);
      const layers = known.get(path) ?? (await layersIn(file, io).catch((error) => refused(error, file))) ?? [];
      known.set(path, layers);
      named.push(...layers);
    }
  }
  const once = [...new Set(named)];
  const pending = withStems(once);
  return named.map((one) => pending[once.indexOf(one)]);
}

/** A file itself, or of an archive its paste layers. @throws {InputError} an archive that can't be read, or without any */
async function layersIn(file: string, io: Io): Promise<Named[]> {
  const format = await formatOf(file, io);
  if (format === 'zip') return fromArchive(file, io);
  const folder = basename(dirname(resolve(io.cwd, file)));
  const load = async () => ({ bytes: await io.readFile(file) });
  return [{ file, name: basename(file), folder, stem: '', format, load }];
}

async function fromArchive(file: string, io: Io): Promise<Named[]> {
  const bytes = await io.readFile(file);
  const { listArchive } = await import('../artwork/archive/list-archive.js');
  const archive = await listArchive(bytes, { name: file });
  io.say(`${visible(file)}: ${count(archive.entries.length, 'file')}\n`);
  for (const entry of archive.entries)
    io.say(`  ${visible(`${entry.name}: ${entry.kind}${entry.side ? ` ${entry.side}` : ''} (${entry.reason})`)}\n`);
  sayWarnings(archive.warnings, io);
  if (archive.paste.length === 0) {
    throw new InputError({
      code: 'NO_PASTE_LAYER',
      place: { file },
      message: `no paste layer was found among its ${archive.entries.length} files.`,
      hint: 'Unpack it and name the paste layer yourself.',
    });
  }
  const stem = basename(file).replace(/\.zip$/i, '');
  const { outline } = archive;
  return archive.paste.map((entry) => ({
    file: `${file}:${entry.name}`,
    name: `${stem}-${forAnySystem(basename(entry.name))}`,
    folder: forAnySystem(basename(dirname(entry.name))),
    stem: '',
    format: sniff(entry.bytes),
    load: async () => ({ bytes: entry.bytes }),
    jobFunction: entry.jobFunction,
    outline: outline && { file: `${file}:${outline.name}`, bytes: outline.bytes },
  }));
}

/** The plain name without its ending; with its ending, then with its folder, where two results would share a name. */
function withStems(items: readonly Named[]): Pending[] {
  const whole = ({ name }: Named): string => name.replace(/\./g, '-');
  const levels = [
    ({ name }: Named) => stemOf(name),
    whole,
    (item: Named) => [item.folder, whole(item)].filter((part) => !/^\.?$/.test(part)).join('-'),
    // A dot in front would hide the results.
  ].map((level) => (item: Named) => level(item).replace(/^\.+/, '') || 'artwork');
  let stems = items.map((item) => levels[0](item));
  for (const level of levels.slice(1)) {
    const alike = grouped(stems, (stem) => stem.toLowerCase());
    const isAlone = (stem: string): boolean => alike.get(stem.toLowerCase())?.length === 1;
    stems = stems.map((stem, i) => (isAlone(stem) ? stem : level(items[i])));
  }
  const own = withNumbers(stems);
  return items.map((item, i) => ({ ...item, stem: own[i] }));
}

/** Names of results, numbered from the second on that is like another. */
export function withNumbers(names: readonly string[]): string[] {
  const alike = new Map<string, string[]>();
  return names.map((name) => {
    const count = listIn(alike, name.toLowerCase()).push(name);
    return count === 1 ? name : `${name}-${count}`;
  });
}

/** How results of a file are called: its name without folder and ending; what came through a pipe has none. */
const stemOf = (file: string): string =>
  file === '-' ? 'stdin' : basename(file).replace(/\.[^.]+$/, '') || basename(file);

/** Artwork without some of its openings; the others keep the numbers that every report gives them. */
export type Kept = ReturnType<typeof withoutDropped>;

/**
 * Leaves openings out.
 *
 * @param options.drop - their numbers; undefined or none leaves all in
 * @param options.rules - that the openings go through: those that rules give back are counted anew
 * @throws {InputError} NO_SUCH_OPENING; NOTHING_LEFT
 */
export function withoutDropped(
  artwork: Artwork,
  { drop, rules }: { readonly drop?: readonly number[]; readonly rules?: unknown },
  file: string,
) {
  const anew = (place: number): number => place;
  if (!drop || drop.length === 0) return { artwork, numberAt: anew };
  const total = artwork.openings.length;
  const place = { file, key: '--drop' };
  const unknown = drop.filter((number) => number > total);
  if (unknown.length > 0) {
    throw new InputError({
      code: 'NO_SUCH_OPENING',
      place,
      message: `there ${unknown.length === 1 ? 'is no opening' : 'are no openings'} ${runsOf(unknown)}; the artwork has ${count(total, 'opening')}.`,
      hint: 'See their numbers with `apertrue number`.',
    });
  }
  const dropped = new Set(drop);
  const numbers = artwork.openings.map((_, i) => i + 1).filter((number) => !dropped.has(number));
  if (numbers.length === 0) {
    const hint = 'Name the openings that the stencil shall not have.';
    throw new InputError({ code: 'NOTHING_LEFT', place, message: 'every opening would be left out.', hint });
  }
  const told: Warning = {
    code: 'OPENINGS_DROPPED',
    message: `${count(drop.length, 'opening was', 'openings were')} left out, as told with --drop; ${count(numbers.length, 'opening')} of ${total} remain.`,
    openings: drop,
  };
  // What was odd about them is odd no longer.
  const concerns = ({ openings }: Warning): boolean =>
    openings === undefined || openings.some((one) => !dropped.has(one));
  return {
    artwork: {
      ...artwork,
      openings: numbers.map((number) => artwork.openings[number - 1]),
      warnings: [told, ...artwork.warnings.filter(concerns)],
    },
    /** The number in the artwork of the opening that now stands at a place, counting from 1. */
    numberAt: rules === undefined ? (at: number): number => numbers[at - 1] : anew,
  };
}

/** A warning about openings by their places, with their numbers. */
export function numbered(warning: Warning, numberAt: Kept['numberAt']): Warning {
  return warning.openings === undefined ? warning : { ...warning, openings: warning.openings.map(numberAt) };
}

/** Numbers belong to one artwork. @throws {InputError} OPTION_FOR_ONE_FILE */
export function refuseDropOfMany(drop: readonly number[] | undefined, files: number): void {
  if (drop === undefined || files <= 1) return;
  throw new InputError({
    code: 'OPTION_FOR_ONE_FILE',
    place: { key: '--drop' },
    message: `it names openings by their numbers in one artwork, and ${files} were given.`,
    hint: 'Give the artwork that it is about alone.',
  });
}

const IMAGES: readonly Sniffed[] = ['png', 'bmp', 'tiff', 'jpeg', 'webp', 'gif'];
const NAMES: Partial<Record<Sniffed, string>> = { gerber: 'Gerber', svg: 'SVG', pdf: 'PDF' };

/** Which kinds of artwork each option of {@link ArtworkOptionValues} says something about; why not of others, and what helps. */
const ARTWORK_OPTIONS: readonly (readonly [keyof ArtworkOptionValues, readonly Sniffed[], string, string?])[] = [
  [
    'dpi',
    [...IMAGES, 'svg'],
    'its size is in the file',
    'Leave it out: it is the resolution of a picture that is read. How far apart the laser sets its dots is --pitch-mm.',
  ],
  ['widthMm', [...IMAGES, 'svg', 'pdf'], 'its size is in the file'],
  ['knownDistance', [...IMAGES, 'svg', 'pdf'], 'its size is in the file'],
  ['polarity', [...IMAGES, 'svg', 'pdf'], 'what is an opening is in the file'],
  ['dropSpecksMm', IMAGES, 'only images are traced and have specks'],
  ['page', ['pdf'], 'only a PDF has pages'],
  ['anyLayer', ['gerber'], 'only a Gerber file says which layer it is'],
];

const SNIFFED_BYTES = 65_536;

/** What a file is, by how it begins; a file that can't be read is told of when its turn comes. */
async function formatOf(file: string, io: Io): Promise<Sniffed> {
  return io.readStart(file, SNIFFED_BYTES).then(sniff, () => 'unknown' as const);
}

/**
 * Holds the options on how to read artwork against the files: an option that none of them can use is refused, one that
 * only some can use is told of.
 *
 * @throws {InputError} OPTION_WITHOUT_EFFECT
 */
export function refuseIdleArtworkOptions(
  values: ArtworkOptionValues,
  files: readonly Pick<Pending, 'file' | 'format'>[],
  io: Io,
): void {
  // What is no artwork is refused by its reader, with a better reason.
  const artwork = files.filter(({ format }) => IMAGES.includes(format) || NAMES[format]);
  const problems: Problem[] = [];
  for (const [key, taken, why, hint] of ARTWORK_OPTIONS) {
    const others = artwork.filter(({ format }) => !taken.includes(format));
    if (values[key] === undefined || others.length === 0) continue;
    const kinds = [...new Set(others.map(({ format }) => NAMES[format] ?? format.toUpperCase()))].join(' and ');
    const names = others.length > 3 ? `${others.length} files` : others.map(({ file }) => file).join(', ');
    const problem = idleOption(
      flagOf(key),
      `${names} ${others.length === 1 ? 'is' : 'are'} ${kinds}, and ${why}`,
      hint,
    );
    if (others.length === artwork.length) problems.push(problem);
    else
      io.say(
        `note: ${formatProblem({ ...problem, message: problem.message.replace('no effect', 'no effect on some files'), hint: undefined })}\n`,
      );
  }
  refuseAll(problems);
}

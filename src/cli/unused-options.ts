import { type Sniffed, sniff } from '../artwork/read.js';
import { formatProblem, InputError, type Problem } from '../errors.js';
import type { Io } from './io.js';
import { flagOf } from './options/option.js';
import type { ArtworkOptionValues } from './options/shared.js';

/** An option that was given but would change nothing: the user expects something that would not come. */
function idleOption(flag: string, why: string, hint = 'Leave it out.'): Problem {
  return { code: 'OPTION_WITHOUT_EFFECT', place: { key: flag }, message: `this has no effect: ${why}.`, hint };
}

/**
 * Refuses options that would change nothing.
 *
 * @param cases - whether the option was given and is idle; the option; why; how to fix it
 * @throws {InputError} OPTION_WITHOUT_EFFECT, all together
 */
export function refuseUnusedOptions(cases: readonly (readonly [boolean, string, string, string?])[]): void {
  const problems = cases.filter(([idle]) => idle).map(([, flag, why, hint]) => idleOption(flag, why, hint));
  if (problems.length > 0) throw new InputError(problems);
}

const IMAGES: readonly Sniffed[] = ['png', 'bmp', 'tiff', 'jpeg', 'webp', 'gif'];
const NAMES: Partial<Record<Sniffed, string>> = { gerber: 'Gerber', svg: 'SVG', pdf: 'PDF' };

interface ArtworkOption {
  readonly key: keyof ArtworkOptionValues;
  readonly taken: readonly Sniffed[];
  readonly why: string;
  readonly hint?: string;
}

/** Which kinds of artwork each option of {@link ArtworkOptionValues} says something about. */
const ARTWORK_OPTIONS: readonly ArtworkOption[] = [
  {
    key: 'dpi',
    taken: [...IMAGES, 'svg'],
    why: 'its size is in the file',
    hint: 'Leave it out: it is the resolution of a picture that is read. How far apart the laser sets its dots is --pitch-mm.',
  },
  { key: 'widthMm', taken: [...IMAGES, 'svg', 'pdf'], why: 'its size is in the file' },
  { key: 'knownDistance', taken: [...IMAGES, 'svg', 'pdf'], why: 'its size is in the file' },
  {
    key: 'polarity',
    taken: [...IMAGES, 'svg', 'pdf'],
    why: 'what is an opening is in the file',
  },
  { key: 'dropSpecksMm', taken: IMAGES, why: 'only images are traced and have specks' },
  { key: 'page', taken: ['pdf'], why: 'only a PDF has pages' },
  { key: 'anyLayer', taken: ['gerber'], why: 'only a Gerber file says which layer it is' },
];

/** A file of artwork and how it begins. */
export interface Begun {
  readonly file: string;
  readonly format: Sniffed;
}

const SNIFFED_BYTES = 65_536;

/** What a file is, by how it begins; a file that can't be read is told of when its turn comes. */
export async function formatOf(file: string, io: Io): Promise<Sniffed> {
  return io.readStart(file, SNIFFED_BYTES).then(sniff, () => 'unknown' as const);
}

/**
 * Holds the options on how to read artwork against the files: an option that none of them can use is refused, one that
 * only some can use is told of.
 *
 * @throws {InputError} OPTION_WITHOUT_EFFECT
 */
export function refuseIdleArtworkOptions(values: ArtworkOptionValues, files: readonly Begun[], io: Io): void {
  // What is no artwork is refused by its reader, with a better reason.
  const artwork = files.filter(({ format }) => IMAGES.includes(format) || NAMES[format]);
  const problems: Problem[] = [];
  for (const { key, taken, why, hint } of ARTWORK_OPTIONS) {
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
  if (problems.length > 0) throw new InputError(problems);
}

import { basename, dirname, resolve } from 'node:path';
import { type Sniffed, sniff } from '../artwork/read.js';
import { formatProblem, InputError } from '../errors.js';
import { count, visible } from '../text.js';
import { isGrave } from './exit-codes.js';
import { problemsOf } from './file-problem.js';
import type { Io } from './io.js';
import { noteDoubt, sayProblems } from './tell.js';
import { formatOf } from './unused-options.js';

/** A file to be worked on, not yet read: a batch of large images must not lie in memory together. */
export interface Pending {
  readonly file: string;
  readonly stem: string;
  /** What its content begins like. */
  readonly format: Sniffed;
  readonly load: () => Promise<{ bytes: Uint8Array }>;
  /** What a job file in the same archive says of it. */
  readonly jobFunction?: string;
}

/** With what its results are called by: its name, and the folder that it lies in. */
interface Named extends Pending {
  readonly name: string;
  readonly folder: string;
}

/** What nobody can see is left out of a name, and what some system forbids in names of files becomes a dash. */
const forAnySystem = (name: string): string =>
  name.replace(/[\p{Cc}\p{Cf}\u2028\u2029]/gu, '').replace(/[<>:"/\\|?*]/g, '-');

/** Expands globs and archives. A pattern that finds nothing and an archive that can't be read count as failed files. */
export async function collectArtwork(
  patterns: readonly string[],
  io: Io,
): Promise<{ pending: Pending[]; failed: number }> {
  const files = new Map<string, string>();
  let failed = 0;
  for (const pattern of patterns) {
    const found = await io.expand(pattern);
    if (found.length === 0) {
      failed += 1;
      const hint = 'Check the folder; put globs in quotes.';
      sayProblems([{ code: 'NO_FILES', place: { file: pattern }, message: 'no file matches it.', hint }], io);
    }
    // However a file is written, it is the same one.
    for (const file of found) if (!files.has(resolve(io.cwd, file))) files.set(resolve(io.cwd, file), file);
  }
  const items: Named[] = [];
  for (const [path, file] of files) {
    const format = await formatOf(file, io);
    if (format === 'zip') {
      try {
        items.push(...(await fromArchive(file, io)));
      } catch (error) {
        failed += 1;
        sayProblems(problemsOf(error, file), io);
      }
    } else {
      items.push({
        file,
        name: basename(file),
        folder: basename(dirname(path)),
        stem: '',
        format,
        load: async () => ({ bytes: await io.readFile(file) }),
      });
    }
  }
  return { pending: withStems(items), failed };
}

async function fromArchive(file: string, io: Io): Promise<Named[]> {
  const bytes = await io.readFile(file);
  const { listArchive } = await import('../artwork/archive/list-archive.js');
  const archive = await listArchive(bytes, { name: file });
  io.say(`${visible(file)}: ${count(archive.entries.length, 'file')}\n`);
  for (const entry of archive.entries)
    io.say(`  ${visible(`${entry.name}: ${entry.kind}${entry.side ? ` ${entry.side}` : ''} (${entry.reason})`)}\n`);
  for (const warning of archive.warnings) io.say(`warning: ${formatProblem(warning)}\n`);
  if (archive.warnings.some((warning) => isGrave(warning))) noteDoubt(io);
  if (archive.paste.length === 0) {
    throw new InputError({
      code: 'NO_PASTE_LAYER',
      place: { file },
      message: `no paste layer was found among its ${archive.entries.length} files.`,
      hint: 'Unpack it and name the paste layer yourself.',
    });
  }
  const stem = basename(file).replace(/\.zip$/i, '');
  return archive.paste.map((entry) => ({
    file: `${file}:${entry.name}`,
    name: `${stem}-${forAnySystem(basename(entry.name))}`,
    folder: forAnySystem(basename(dirname(entry.name))),
    stem: '',
    format: sniff(entry.bytes),
    load: async () => ({ bytes: entry.bytes }),
    ...(entry.jobFunction === undefined ? {} : { jobFunction: entry.jobFunction }),
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
  const stems = items.map((item) => levels[0](item));
  for (const level of levels.slice(1)) {
    const counts = new Map<string, number>();
    for (const stem of stems) counts.set(stem.toLowerCase(), (counts.get(stem.toLowerCase()) ?? 0) + 1);
    items.forEach((item, i) => {
      if ((counts.get(stems[i].toLowerCase()) ?? 0) > 1) stems[i] = level(item);
    });
  }
  const used = new Map<string, number>();
  return items.map((item, i) => {
    const count = (used.get(stems[i].toLowerCase()) ?? 0) + 1;
    used.set(stems[i].toLowerCase(), count);
    return {
      file: item.file,
      format: item.format,
      load: item.load,
      ...(item.jobFunction === undefined ? {} : { jobFunction: item.jobFunction }),
      stem: count > 1 ? `${stems[i]}-${count}` : stems[i],
    };
  });
}

/** How results of a file are called: its name without folder and ending; what came through a pipe has none. */
export const stemOf = (file: string): string =>
  file === '-' ? 'stdin' : basename(file).replace(/\.[^.]+$/, '') || basename(file);

import { basename, dirname } from 'node:path';
import { type Sniffed, sniff } from '../artwork/sniff.js';
import { formatProblem, InputError } from '../errors.js';
import { visible } from '../visible-text.js';
import { problemsOf } from './failure.js';
import type { Io } from './io.js';
import { stemOf } from './stem-of.js';
import { count, sayProblems } from './tell.js';
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

/** Expands globs and archives. A pattern that finds nothing and an archive that can't be read count as failed files. */
export async function collectArtwork(
  patterns: readonly string[],
  io: Io,
): Promise<{ pending: Pending[]; failed: number }> {
  const files: string[] = [];
  let failed = 0;
  for (const pattern of patterns) {
    const found = await io.expand(pattern);
    if (found.length === 0) {
      failed += 1;
      const hint = 'Check the folder; put globs in quotes.';
      sayProblems([{ code: 'NO_FILES', place: { file: pattern }, message: 'no file matches it.', hint }], io);
    }
    for (const file of found) if (!files.includes(file)) files.push(file);
  }
  const items: (Pending & { name: string })[] = [];
  for (const file of files) {
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
        stem: '',
        format,
        load: async () => ({ bytes: await io.readFile(file) }),
      });
    }
  }
  return { pending: withStems(items), failed };
}

async function fromArchive(file: string, io: Io): Promise<(Pending & { name: string })[]> {
  const bytes = await io.readFile(file);
  const { listArchive } = await import('../artwork/archive/list-archive.js');
  const archive = await listArchive(bytes, { name: file });
  io.say(`${visible(file)}: ${count(archive.entries.length, 'file')}\n`);
  for (const entry of archive.entries)
    io.say(`  ${visible(`${entry.name}: ${entry.kind}${entry.side ? ` ${entry.side}` : ''} (${entry.reason})`)}\n`);
  for (const warning of archive.warnings) io.say(`warning: ${formatProblem(warning)}\n`);
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
    name: `${stem}-${basename(entry.name).replace(/[\p{Cc}\p{Cf}\u2028\u2029]/gu, '')}`,
    stem: '',
    format: sniff(entry.bytes),
    load: async () => ({ bytes: entry.bytes }),
    ...(entry.jobFunction === undefined ? {} : { jobFunction: entry.jobFunction }),
  }));
}

/** The plain name without its ending; with its ending, then with its folder, where two results would share a name. */
function withStems(items: readonly (Pending & { name: string })[]): Pending[] {
  const levels = [
    (item: { name: string }) => stemOf(item.name),
    (item: { name: string }) => item.name.replace(/\./g, '-'),
    (item: { name: string; file: string }) => `${basename(dirname(item.file))}-${item.name.replace(/\./g, '-')}`,
  ];
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

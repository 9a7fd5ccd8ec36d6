import { InputError, type Warning } from '../../errors.js';
import { smallest } from '../../geometry/bounds.js';
import { givenFile } from '../../given.js';
import { sniff } from '../read.js';
import { layerFromName } from '../side.js';
import type { Side } from '../types.js';
import { classify, type EntryKind, jobFunctions } from './classify.js';
import { Zip, type ZipEntry } from './zip.js';

/** One file of an archive, unpacked. */
export interface ArchiveEntry {
  /** Its path in the archive. */
  readonly name: string;
  readonly kind: EntryKind;
  readonly side?: Side;
  /** What a job file in the archive says of it, for {@link ReadOptions}. */
  readonly jobFunction?: string;
  /** Why it is taken for that, in words. */
  readonly reason: string;
  /** Empty for what can't be unpacked. */
  readonly bytes: Uint8Array;
}

export interface Archive {
  /** All files, sorted by name. */
  readonly entries: readonly ArchiveEntry[];
  /** Top before bottom. None, if no paste layer was found. */
  readonly paste: readonly ArchiveEntry[];
  readonly outline?: ArchiveEntry;
  readonly drills: readonly ArchiveEntry[];
  readonly warnings: readonly Warning[];
}

interface Judged extends ArchiveEntry {
  readonly rank: number;
}

/** What operating systems leave behind. */
const LITTER = /(?:^|\/)(?:__MACOSX\/|\.DS_Store$|Thumbs\.db$|desktop\.ini$|\._)/i;

/**
 * Looks through a zip of fabrication files for paste layers, the board's outline and drill files: by the files' own
 * attributes first, by a job file second, by their names third.
 *
 * @param given - the whole archive
 * @throws {InputError} NOT_AN_ARCHIVE, ARCHIVE_BROKEN, ARCHIVE_TOO_LARGE, ARCHIVE_ENCRYPTED, ARCHIVE_EMPTY
 * @example (await listArchive(zip)).entries.length // 3
 */
export async function listArchive(
  given: Uint8Array | ArrayBuffer,
  options: { readonly name?: string } = {},
): Promise<Archive> {
  const bytes = givenFile(given, options);
  const warnings: Warning[] = [];
  const entries = open(bytes, warnings, options.name).sort((p, q) => (p.name < q.name ? -1 : 1));
  const warn = (code: string, message: string, hint?: string): void => {
    warnings.push({ code, message, hint, place: { file: options.name } });
  };
  if (entries.length === 0) {
    throw new InputError({
      code: 'ARCHIVE_EMPTY',
      place: { file: options.name },
      message: 'the archive holds no files.',
      hint: 'Export the fabrication files again.',
    });
  }
  const paste = bestPaste(entries, warn);
  const outlines = entries.filter(({ kind }) => kind === 'outline').sort((p, q) => p.rank - q.rank);
  if (outlines.length > 1 && outlines[0].rank === outlines[1].rank) {
    warn('OUTLINE_TWICE', `several files look like the board's outline; ${outlines[0].name} was taken.`);
  }
  const plain = ({ rank: _, ...entry }: Judged): ArchiveEntry => entry;
  return {
    entries: entries.map(plain),
    paste: paste.map(plain),
    ...(outlines.length > 0 ? { outline: plain(outlines[0]) } : {}),
    drills: entries.filter(({ kind }) => kind === 'drill').map(plain),
    warnings,
  };
}

function open(bytes: Uint8Array, warnings: Warning[], file: string | undefined): Judged[] {
  if (sniff(bytes) !== 'zip') {
    throw new InputError({
      code: 'NOT_AN_ARCHIVE',
      place: { file },
      message: 'expected a zip archive, found something else.',
      hint: 'Give the paste layer itself, or a zip of the fabrication files.',
    });
  }
  const zip = new Zip(bytes, file);
  const files = zip.entries.filter(({ name }) => name !== '' && !name.endsWith('/') && !LITTER.test(name));
  if (files.length > 0 && files.every(({ isEncrypted }) => isEncrypted)) {
    throw new InputError({
      code: 'ARCHIVE_ENCRYPTED',
      place: { file },
      message: 'the archive is protected by a password.',
      hint: 'Unpack it and give the paste layers.',
    });
  }
  const unpacked = files.map((entry) => ({ entry, ...unpack(zip, entry) }));
  const roles = new Map<string, string>();
  for (const { data } of unpacked) if (data) for (const [name, role] of jobFunctions(data)) roles.set(name, role);
  return unpacked.map(({ entry: { name }, data, problem }): Judged => {
    if (!data) {
      const code = layerFromName(name).kind === 'paste' ? 'PASTE_UNREADABLE' : 'ENTRY_UNREADABLE';
      warnings.push({ code, place: { file }, message: `"${name}" was left out: ${problem}.` });
      return { name, kind: 'unreadable', reason: problem ?? '', bytes: new Uint8Array(), rank: 99 };
    }
    const jobFunction = roles.get(name.split('/').pop() ?? '');
    const verdict = classify(name, data, jobFunction);
    if (verdict.kind === 'archive') {
      const [message, hint] = [
        `"${name}" is an archive in the archive, and was not opened.`,
        'Unpack it where it holds the layers.',
      ];
      warnings.push({ code: 'NESTED_ARCHIVE', place: { file }, message, hint });
    }
    return { name, bytes: data, ...verdict, ...(jobFunction === undefined ? {} : { jobFunction }) };
  });
}

function unpack(zip: Zip, entry: ZipEntry): { data?: Uint8Array; problem?: string } {
  if (entry.isEncrypted) return { problem: 'it is protected by a password' };
  if (entry.method !== 0 && entry.method !== 8) return { problem: `it is packed by method ${entry.method}` };
  return { data: zip.unpack(entry) };
}

/** The best-founded paste layer of each side and folder; what is less well founded is only listed. */
function bestPaste(entries: readonly Judged[], warn: (code: string, message: string, hint?: string) => void): Judged[] {
  const found = entries.filter(({ kind }) => kind === 'paste');
  const left: string[] = [];
  const sides: (Side | undefined)[] = ['top', 'bottom', undefined];
  const taken = sides.flatMap((side) => {
    const ofSide = found.filter((entry) => entry.side === side);
    const best = smallest(ofSide.map(({ rank }) => rank));
    const equals = ofSide.filter(({ rank }) => rank === best);
    const twin = equals.map((entry) => equals.find((other) => same(other.bytes, entry.bytes)) ?? entry);
    const distinct = equals.filter((entry, i) => twin[i] === entry);
    equals.forEach((entry, i) => {
      if (twin[i] !== entry)
        warn('PASTE_TWICE', `"${entry.name}" is the same as "${twin[i].name}" to the byte; it was taken once.`);
    });
    left.push(...ofSide.filter(({ rank }) => rank > best).map(({ name }) => name));
    if (side === undefined && found.some((entry) => entry.side !== undefined && entry.rank <= best)) {
      left.push(...distinct.map(({ name }) => name));
      return [];
    }
    if (distinct.length > 1) {
      warn(
        'PASTE_SEVERAL',
        `${distinct.length} files are ${side ? `${side} ` : ''}paste layers: ${distinct.map(({ name }) => name).join(', ')}.`,
        'All of them were taken.',
      );
    }
    return distinct;
  });
  if (left.length > 0) {
    warn(
      'PASTE_LEFT',
      `left out, although named like paste layers, since others say so more surely: ${left.join(', ')}.`,
    );
  }
  return taken;
}

function same(p: Uint8Array, q: Uint8Array): boolean {
  return p.length === q.length && Buffer.compare(p, q) === 0;
}

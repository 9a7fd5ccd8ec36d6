import { InputError, type Warning } from '../../errors.js';
import { type Sniffed, sniff } from '../sniff.js';
import { layerOf } from './layer-of.js';

export type EntryKind = 'paste' | 'outline' | 'drill' | 'other layer' | 'image' | 'drawing' | 'archive' | 'other';

/** One file of an archive, and what it seems to be. */
export interface ArchiveEntry {
  readonly name: string;
  readonly kind: EntryKind;
  readonly side?: 'top' | 'bottom';
  /** Why it is taken for that. */
  readonly reason: string;
  readonly bytes: Uint8Array;
}

export interface ArchiveListing {
  /** All files, sorted by name. */
  readonly entries: readonly ArchiveEntry[];
  /** Paste layers, top before bottom. */
  readonly paste: readonly ArchiveEntry[];
  readonly outline?: ArchiveEntry;
  readonly drills: readonly ArchiveEntry[];
  readonly warnings: readonly Warning[];
}

/** Unpacked sizes beyond these are no fabrication data but a trap for the memory. */
const MAX_TOTAL_BYTES = 300 * 2 ** 20;
const MAX_FILE_BYTES = 100 * 2 ** 20;
const MAX_ENTRIES = 2000;

/**
 * Lists a zip of fabrication files: paste layers by their Gerber file attribute first and by name second, the board's
 * outline and drill files for later placing.
 *
 * @param bytes - the whole archive
 * @throws {InputError} BAD_ARCHIVE, ARCHIVE_TOO_LARGE
 */
export async function listArchive(
  bytes: Uint8Array,
  options: { readonly name?: string } = {},
): Promise<ArchiveListing> {
  const place = { file: options.name };
  const files = await unpack(bytes, place);
  const warnings: Warning[] = [];
  const entries = Object.entries(files)
    .filter(([name]) => !name.endsWith('/') && !/(^|\/)(__MACOSX\/|\.DS_Store|Thumbs\.db)/.test(name))
    .sort(([p], [q]) => (p < q ? -1 : 1))
    .map(([name, content]) => describe(name, content));
  if (entries.some(({ kind }) => kind === 'archive')) {
    warnings.push({
      code: 'NESTED_ARCHIVE',
      place,
      message: 'it holds another archive, which was not opened.',
      hint: 'Unpack it if the paste layers are in there.',
    });
  }
  const certain = entries.filter(({ kind, reason }) => kind === 'paste' && reason.startsWith('says'));
  const byName = entries.filter(({ kind, reason }) => kind === 'paste' && !reason.startsWith('says'));
  const paste = certain.length > 0 ? certain : byName;
  if (certain.length > 0 && byName.length > 0) {
    warnings.push({
      code: 'PASTE_BY_NAME_LEFT',
      place,
      message: `${byName.map(({ name }) => name).join(', ')} ${byName.length === 1 ? 'has' : 'have'} the name of a paste layer but the files do not say so; the layers that do were taken.`,
    });
  }
  const rank = ({ side }: ArchiveEntry): number => (side === 'top' ? 0 : side === 'bottom' ? 1 : 2);
  const outline = entries.find(({ kind }) => kind === 'outline');
  return {
    entries,
    paste: [...paste].sort((p, q) => rank(p) - rank(q)),
    ...(outline ? { outline } : {}),
    drills: entries.filter(({ kind }) => kind === 'drill'),
    warnings,
  };
}

async function unpack(bytes: Uint8Array, place: { file?: string }): Promise<Record<string, Uint8Array>> {
  const { unzipSync } = await import('fflate');
  let total = 0;
  let count = 0;
  const tooLarge = (what: string): InputError =>
    new InputError({
      code: 'ARCHIVE_TOO_LARGE',
      place,
      message: `the archive ${what}; no set of fabrication files is that large.`,
      hint: 'Unpack it and give the paste layers themselves.',
    });
  try {
    return unzipSync(bytes, {
      filter: ({ name, originalSize, size }) => {
        count += 1;
        if (count > MAX_ENTRIES) throw tooLarge(`holds more than ${MAX_ENTRIES} files`);
        total += Math.max(originalSize, size);
        if (originalSize > MAX_FILE_BYTES)
          throw tooLarge(`holds a file of ${Math.round(originalSize / 2 ** 20)} MB (${name})`);
        if (total > MAX_TOTAL_BYTES) throw tooLarge(`unpacks to more than ${MAX_TOTAL_BYTES / 2 ** 20} MB`);
        return true;
      },
    });
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError(
      {
        code: 'BAD_ARCHIVE',
        place,
        message: `the zip archive can't be unpacked (${error instanceof Error ? error.message : String(error)}).`,
        hint: 'It may be cut off or locked with a password; unpack it yourself and give the paste layers.',
      },
      { cause: error },
    );
  }
}

const IMAGES: readonly Sniffed[] = ['png', 'bmp', 'tiff', 'jpeg', 'webp', 'gif'];

function describe(name: string, bytes: Uint8Array): ArchiveEntry {
  const format = sniff(bytes);
  if (format === 'gerber') return { name, bytes, ...layerOf(name, bytes) };
  if (format === 'drill') return { name, bytes, kind: 'drill', reason: 'a drill file by its content' };
  if (format === 'zip' || format === 'gzip')
    return { name, bytes, kind: 'archive', reason: 'an archive by its content' };
  if (IMAGES.includes(format)) return { name, bytes, kind: 'image', reason: `a ${format} image` };
  if (format === 'svg' || format === 'pdf' || format === 'dxf')
    return { name, bytes, kind: 'drawing', reason: `a ${format} drawing` };
  return { name, bytes, kind: 'other', reason: format === 'empty' ? 'empty' : 'no layer' };
}

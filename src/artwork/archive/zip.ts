import { inflateRawSync } from 'node:zlib';
import { InputError } from '../../errors.js';
import { crc32 } from '../../export/formats/deflate.js';

/** One file of a zip, not unpacked yet. */
export interface ZipEntry {
  /** With forward slashes, without leading ones and without `..`. */
  readonly name: string;
  readonly sizeBytes: number;
  readonly isEncrypted: boolean;
  /** 0 stored, 8 deflated; others are beyond this reader. */
  readonly method: number;
  readonly crc32: number;
  /** Where its data lies. */
  readonly localHeader: number;
  readonly packedBytes: number;
}

const END = 0x06054b50;
const CENTRAL = 0x02014b50;
const LOCAL = 0x04034b50;
const END_BYTES = 22;
const MAX_COMMENT = 65_535;

/** A zip of fabrication files has some tens of files. */
const MAX_ENTRIES = 5000;
const MAX_FILE_BYTES = 100 * 2 ** 20;
/** What an archive may unpack to. */
const MAX_TOTAL_BYTES = 300 * 2 ** 20;

/** Archives that hold their files as they are, or deflated (PKWARE, .ZIP File Format Specification, 6.3). */
export class Zip {
  readonly entries: readonly ZipEntry[];
  private readonly view: DataView;

  /** @throws {InputError} ARCHIVE_BROKEN, ARCHIVE_TOO_LARGE */
  constructor(
    private readonly bytes: Uint8Array,
    private readonly file: string | undefined,
  ) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.entries = this.directory();
    if (this.entries.reduce((sum, { sizeBytes }) => sum + sizeBytes, 0) > MAX_TOTAL_BYTES)
      throw this.tooLarge(`it unpacks to more than ${mega(MAX_TOTAL_BYTES)} MB`);
  }

  /**
   * Unpacks one file and checks it.
   *
   * @throws {InputError} ARCHIVE_BROKEN, ARCHIVE_TOO_LARGE
   */
  unpack(entry: ZipEntry): Uint8Array {
    const { view } = this;
    const at = entry.localHeader;
    if (at + 30 > view.byteLength || view.getUint32(at, true) !== LOCAL)
      throw this.broken(`"${entry.name}" is missing`);
    const start = at + 30 + view.getUint16(at + 26, true) + view.getUint16(at + 28, true);
    if (start + entry.packedBytes > view.byteLength) throw this.broken(`"${entry.name}" is cut off`);
    const packed = this.bytes.subarray(start, start + entry.packedBytes);
    if (entry.sizeBytes > MAX_FILE_BYTES) throw this.tooLarge(`"${entry.name}" unpacks to ${mega(entry.sizeBytes)} MB`);
    let data = packed;
    if (entry.method === 8) {
      try {
        // The size that the directory tells may be a lie.
        data = inflateRawSync(packed, { maxOutputLength: Math.max(1, entry.sizeBytes) });
      } catch {
        throw this.broken(`"${entry.name}" can not be unpacked`);
      }
    }
    if (data.length !== entry.sizeBytes || crc32(data) !== entry.crc32) throw this.broken(`"${entry.name}" is damaged`);
    return data;
  }

  private directory(): ZipEntry[] {
    const { view } = this;
    const { count, offset } = this.end();
    if (count > MAX_ENTRIES) throw this.tooLarge(`it holds ${count} files`);
    const entries: ZipEntry[] = [];
    let at = offset;
    for (let i = 0; i < count; i += 1) {
      if (at + 46 > view.byteLength || view.getUint32(at, true) !== CENTRAL) {
        throw this.broken('its list of files is damaged');
      }
      const flags = view.getUint16(at + 8, true);
      const nameBytes = view.getUint16(at + 28, true);
      const extraBytes = view.getUint16(at + 30, true);
      const commentBytes = view.getUint16(at + 32, true);
      const raw = this.bytes.subarray(at + 46, at + 46 + nameBytes);
      entries.push({
        name: cleanName(new TextDecoder(flags & 0x800 ? 'utf-8' : 'windows-1252').decode(raw)),
        isEncrypted: (flags & 1) !== 0,
        method: view.getUint16(at + 10, true),
        crc32: view.getUint32(at + 16, true),
        packedBytes: view.getUint32(at + 20, true),
        sizeBytes: view.getUint32(at + 24, true),
        localHeader: view.getUint32(at + 42, true),
      });
      at += 46 + nameBytes + extraBytes + commentBytes;
    }
    return entries;
  }

  /** A number that takes more than 16 or 32 bits reads as the largest one, which is refused as too large. */
  private end(): { count: number; offset: number } {
    const { view } = this;
    const first = Math.max(0, view.byteLength - END_BYTES - MAX_COMMENT);
    for (let at = view.byteLength - END_BYTES; at >= first; at -= 1) {
      if (view.getUint32(at, true) === END)
        return { count: view.getUint16(at + 10, true), offset: view.getUint32(at + 16, true) };
    }
    throw this.broken('its list of files is missing; it is cut off');
  }

  private broken(what: string): InputError {
    return new InputError({
      code: 'ARCHIVE_BROKEN',
      place: { file: this.file },
      message: `the archive is damaged: ${what}.`,
      hint: 'Fetch it again, or unpack it and give the paste layers.',
    });
  }

  private tooLarge(what: string): InputError {
    return new InputError({
      code: 'ARCHIVE_TOO_LARGE',
      place: { file: this.file },
      message: `the archive is too large for a set of fabrication files: ${what}.`,
      hint: 'Unpack it and give the paste layers.',
    });
  }
}

const mega = (bytes: number): number => Math.round(bytes / 2 ** 20);

/** Names are only labels, but they must not point anywhere else. */
function cleanName(name: string): string {
  const parts = name.replace(/[\u0000-\u001f]/g, '').split(/[\\/]+/);
  const kept = parts.filter((part) => part !== '' && part !== '.' && part !== '..').join('/');
  return /[\\/]$/.test(name) ? `${kept}/` : kept;
}

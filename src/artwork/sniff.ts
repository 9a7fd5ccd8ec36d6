import { InputError } from '../errors.js';
import type { ArtworkFormat } from './types.js';

/** What a file's content says it is: artwork, or something else that deserves a clear refusal. */
export type Sniffed = ArtworkFormat | 'zip' | 'gzip' | 'packed' | 'drill' | 'html' | 'dxf' | 'empty' | 'unknown';

/** How many bytes of a text are looked at; the first commands of a layer may follow long comments. */
const TEXT_WINDOW = 65_536;

const MAGIC: readonly (readonly [Sniffed, readonly number[]])[] = [
  ['png', [0x89, 0x50, 0x4e, 0x47]],
  ['jpeg', [0xff, 0xd8, 0xff]],
  ['gif', [0x47, 0x49, 0x46, 0x38]],
  ['tiff', [0x49, 0x49, 0x2a, 0x00]],
  ['tiff', [0x4d, 0x4d, 0x00, 0x2a]],
  ['tiff', [0x49, 0x49, 0x2b, 0x00]],
  ['tiff', [0x4d, 0x4d, 0x00, 0x2b]],
  ['zip', [0x50, 0x4b, 0x03, 0x04]],
  ['zip', [0x50, 0x4b, 0x05, 0x06]],
  ['gzip', [0x1f, 0x8b]],
  // 7z, RAR, xz.
  ['packed', [0x37, 0x7a, 0xbc, 0xaf, 0x27, 0x1c]],
  ['packed', [0x52, 0x61, 0x72, 0x21, 0x1a, 0x07]],
  ['packed', [0xfd, 0x37, 0x7a, 0x58, 0x5a]],
];

function startsWith(bytes: Uint8Array, magic: readonly number[]): boolean {
  return magic.every((byte, i) => bytes[i] === byte);
}

function ascii(bytes: Uint8Array, from: number, to: number): string {
  const part = bytes.subarray(from, to);
  return Buffer.from(part.buffer, part.byteOffset, part.length).toString('latin1');
}

/** How a file begins, as text: UTF-16 is decoded, and zeros that only fill up a first or last block are left out. */
function headOf(bytes: Uint8Array): string {
  const utf16 = startsWith(bytes, [0xff, 0xfe]) ? 'utf-16le' : startsWith(bytes, [0xfe, 0xff]) ? 'utf-16be' : undefined;
  if (utf16) return new TextDecoder(utf16).decode(bytes.subarray(0, TEXT_WINDOW));
  let from = 0;
  while (from < bytes.length && bytes[from] === 0) from += 1;
  let to = bytes.length;
  while (to > from && bytes[to - 1] === 0) to -= 1;
  return ascii(bytes, from, Math.min(to, from + TEXT_WINDOW));
}

/** A command between percent signs with what must follow it, so that "50 % more" in a letter is none. */
const EXTENDED =
  /%\s*(?:FS\s*[LTDAINXYGM]|MO\s*(?:MM|IN)|AD\s*D|AM[^%\r\n]+\*|LP\s*[DC]|T[FAO]\s*[.\w]|IP\s*(?:POS|NEG)|OF\s*[AB]|MI\s*[AB]|SF\s*[AB]|IR\s*\d|AS\s*[AB]|(?:IN|LN|SR)[^%\r\n]*\*)/i;

function sniffText(text: string): Sniffed {
  const head = text.replace(/^(?:\uFEFF|\u00ef\u00bb\u00bf)/, '').trimStart();
  if (head === '') return 'empty';
  if (/^<(?:!doctype html|(?:html|head|title|meta|body|script|table)\b)/i.test(head)) return 'html';
  if (/^(?:<\?xml|<!--|<!DOCTYPE svg|<svg|<[\w-]+:svg)/i.test(head))
    return /<(?:[\w-]+:)?svg[\s>]/i.test(head) ? 'svg' : /<html\b/i.test(head) ? 'html' : 'unknown';
  // A drill program starts its header with M48, or defines tools as T1C0.8; a Gerber layer never does.
  const commands = head.replace(/^[ \t]*;.*$/gm, '').trimStart();
  if (/^%?\s*M48\b/.test(commands) || /^T\d+(?:[FS]\d+)*C[\d.]+/m.test(commands)) return 'drill';
  // Old ones have neither: a tool on a line of its own, and holes below it.
  if (!commands.includes('*') && /^T\d+\s*$/m.test(commands) && /^(?:X-?[\d.]+)?Y-?[\d.]+\s*$/m.test(commands))
    return 'drill';
  if (EXTENDED.test(head)) return 'gerber';
  if (/(?:^|[*\r\n])[ \t]*G0?4\b/i.test(head) || /[XY][+-]?\d+(?:D0?[123])?\*/i.test(head) || /D\d+\*/i.test(head))
    return 'gerber';
  if (/^\s*0\s*\r?\n\s*SECTION/.test(head)) return 'dxf';
  return 'unknown';
}

/** Finds a file's format by its content. A file's name plays no part. */
export function sniff(bytes: Uint8Array): Sniffed {
  if (bytes.length === 0) return 'empty';
  for (const [format, magic] of MAGIC) if (startsWith(bytes, magic)) return format;
  if (startsWith(bytes, [0x52, 0x49, 0x46, 0x46]) && ascii(bytes, 8, 12) === 'WEBP') return 'webp';
  if (startsWith(bytes, [0x42, 0x4d]) && bytes.length >= 26 && bytes[14] >= 12 && bytes[15] === 0) return 'bmp';
  const head = headOf(bytes);
  if (head.slice(0, 1024).includes('%PDF-')) return 'pdf';
  if (head.includes('\0')) return 'unknown';
  return sniffText(head);
}

/** Refuses a file of another format than the one that is wanted, under `code`. */
export function requireFormat(
  bytes: Uint8Array,
  wanted: Sniffed,
  { code, expected, hint, file }: { code: string; expected: string; hint: string; file: string | undefined },
): void {
  const format = sniff(bytes);
  if (format === wanted) return;
  const found = format === 'unknown' ? 'something else' : `a file of the kind ${format}`;
  throw new InputError({ code, place: { file }, message: `expected ${expected}, found ${found}.`, hint });
}

/** Words in a result's title by which the file itself tells what it is, wherever it is taken. */
const MARKS = {
  corrected: 'corrected by apertrue',
  coupon: 'coupon by apertrue',
} as const;

export type Mark = keyof typeof MARKS;

/** The title of a corrected stencil or a coupon. */
export function markedTitle(name: string, mark: Mark): string {
  return `${name}, ${MARKS[mark]}`;
}

/** What a file's title says it is; undefined for other files, and for formats without a title (BMP). */
export function markIn(bytes: Uint8Array): Mark | undefined {
  const file = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const names = Object.keys(MARKS) as Mark[];
  return names.find(
    (mark) => file.includes(MARKS[mark], 0, 'latin1') || file.includes(pdfHex(MARKS[mark]), 0, 'latin1'),
  );
}

/** As a PDF's title holds it: UTF-16, high byte first, in hexadecimal (ISO 32000-1, section 7.9.2.2). */
function pdfHex(text: string): string {
  return Buffer.from(text, 'utf16le').swap16().toString('hex').toUpperCase();
}

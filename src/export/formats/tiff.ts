import type { Rows } from '../../dots/rows.js';
import { encodeG4 } from './g4.js';

const ASCII = 2;
const SHORT = 3;
const LONG = 4;
const RATIONAL = 5;
const HEADER_BYTES = 8;
const ENTRY_BYTES = 12;

/** Denominator of the resolution: 1000 dpi comes out exact, any other within 5e-8. */
const PER_INCH_STEPS = 10_000;

/**
 * A 1-bit TIFF in group 4 coding, one strip, with its true resolution in dots per inch.
 *
 * @remarks TIFF revision 6.0 (Aldus, 3 June 1992), sections 3 (bilevel), 8 (ImageDescription) and 11 (T.6).
 */
export function writeTiff(
  rows: Rows,
  options: {
    readonly pitch: { readonly x: number; readonly y: number };
    readonly negative: boolean;
    readonly title?: string;
  },
): Uint8Array {
  const packed = encodeG4(rows);
  const stripStart = HEADER_BYTES;
  const rationals = stripStart + packed.length + (packed.length % 2);
  const description = rationals + 16;
  const title = asciiz(options.title);
  const directory = description + title.length + (title.length % 2);
  const entries: readonly (readonly [tag: number, type: number, value: number, count?: number])[] = [
    [256, LONG, rows.width],
    [257, LONG, rows.height],
    [258, SHORT, 1],
    [259, SHORT, 4],
    // 0: white is zero; 1: black is zero, so that openings (ones) turn light.
    [262, SHORT, options.negative ? 1 : 0],
    ...(title.length > 4 ? [[270, ASCII, description, title.length] as const] : []),
    [273, LONG, stripStart],
    [274, SHORT, 1],
    [277, SHORT, 1],
    [278, LONG, rows.height],
    [279, LONG, packed.length],
    [282, RATIONAL, rationals],
    [283, RATIONAL, rationals + 8],
    [293, LONG, 0],
    [296, SHORT, 2],
  ];
  const bytes = new Uint8Array(directory + 2 + entries.length * ENTRY_BYTES + 4);
  const view = new DataView(bytes.buffer);
  bytes.set([0x49, 0x49, 42, 0]);
  view.setUint32(4, directory, true);
  bytes.set(packed, stripStart);
  bytes.set(title, description);
  [options.pitch.x, options.pitch.y].forEach((pitchMm, i) => {
    view.setUint32(rationals + i * 8, Math.round((25.4 / pitchMm) * PER_INCH_STEPS), true);
    view.setUint32(rationals + i * 8 + 4, PER_INCH_STEPS, true);
  });
  view.setUint16(directory, entries.length, true);
  entries.forEach(([tag, type, value, count = 1], i) => {
    const at = directory + 2 + i * ENTRY_BYTES;
    view.setUint16(at, tag, true);
    view.setUint16(at + 2, type, true);
    view.setUint32(at + 4, count, true);
    if (type === SHORT) view.setUint16(at + 8, value, true);
    else view.setUint32(at + 8, value, true);
  });
  return bytes;
}

/** Plain letters with a zero behind them; empty without a title. Up to four bytes would stand in the entry itself. */
function asciiz(text: string | undefined): Uint8Array {
  return text ? new TextEncoder().encode(`${text.replace(/[^\x20-\x7e]/g, '?')}\0`) : new Uint8Array(0);
}

import type { PDFRawStream } from 'pdf-lib';
import * as objects from './objects.js';

/** The mark at the end of group 4 data (ITU-T T.6, section 2.4.1.1). */
const END = '000000000001000000000001';
/** Bytes of padding and line ends may follow it. */
const TAIL_BYTES = 16;

/** Whether group 4 fax data lack the mark at their end, which they have unless the file says otherwise (table 11). */
export function lacksFaxEnd({ dict, contents }: PDFRawStream): boolean {
  const filters = objects.filters(dict);
  // Behind another filter that one's own end is the proof.
  if (filters.length !== 1 || filters[0] !== 'CCITTFaxDecode') return false;
  const all = objects.get(dict, 'DecodeParms');
  const parameters = objects.asDict(objects.array(all)?.[0] ?? all);
  const isGroup4 = (objects.number(objects.get(parameters, 'K')) ?? 0) < 0;
  if (!isGroup4 || String(objects.get(parameters, 'EndOfBlock')) === 'false') return false;
  const tail = Array.from(contents.subarray(-TAIL_BYTES), (byte) => byte.toString(2).padStart(8, '0')).join('');
  return !tail.includes(END);
}

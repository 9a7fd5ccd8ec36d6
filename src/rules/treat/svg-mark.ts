import type { Opening } from '../../geometry/types.js';
import { withMark } from './mark.js';

const ATTRIBUTE = 'data-treated';
const ROOT = '<svg';

/** How much of a file is looked at for its root tag. */
const HEAD_BYTES = 4096;

/** Writes marks of rule sets, and other facts, onto the root of an SVG file, given in parts. Values must hold no quotes. */
export function stampSvg(
  bytes: Uint8Array,
  marks: readonly string[],
  facts: Readonly<Record<string, string>> = {},
): Uint8Array[] {
  const all = { [ATTRIBUTE]: marks.join(' '), ...facts };
  const attributes = Object.entries(all).map(([name, value]) => ` ${name}="${value.replace(/["<&]/g, '')}"`);
  const end = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).indexOf(ROOT) + ROOT.length;
  return [bytes.subarray(0, end), Buffer.from(attributes.join('')), bytes.subarray(end)];
}

/** Marks of the rule sets that a file's openings have been through; none for files that are no treated SVG. */
function marksInSvg(bytes: Uint8Array): string[] {
  const head = new TextDecoder('latin1').decode(bytes.subarray(0, HEAD_BYTES));
  const root = /<svg\b[^>]*>/.exec(head)?.[0] ?? '';
  const marks = new RegExp(`\\s${ATTRIBUTE}="([^"]*)"`).exec(root)?.[1] ?? '';
  return marks.split(' ').filter(Boolean);
}

/**
 * Openings read from a file, with the marks that the file carries: rules that it has been through leave them alone.
 *
 * @param bytes - the whole file that the openings were read from
 */
export function withFileMarks(openings: readonly Opening[], bytes: Uint8Array): Opening[] {
  const marks = marksInSvg(bytes);
  return openings.map((opening) => marks.reduce(withMark, opening));
}

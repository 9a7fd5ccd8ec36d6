import { tagged } from '../../geometry/copies.js';
import type { Opening } from '../../geometry/types.js';
import type { RuleSet } from './rule-types.js';

/** Attribute of an opening that names the rule sets it has been through. */
const TREATED_ATTRIBUTE = 'apertrue.treated';

/** FNV-1a, 32 bits: short, and the same on every machine. */
function hash(text: string): string {
  let h = 0x811c9dc5;
  for (let i = 0; i < text.length; i += 1) {
    h ^= text.charCodeAt(i);
    h = Math.imul(h, 0x01000193);
  }
  return (h >>> 0).toString(16).padStart(8, '0');
}

/** The mark of a rule set: its name and a hash of its content; words that change nothing (purpose, why) don't count. */
export function ruleSetMark(rules: RuleSet): string {
  const content = JSON.stringify([rules.designThicknessMm, rules.rules.map(({ select, action }) => [select, action])]);
  return `${rules.name.replace(/\s+/g, '-')}#${hash(content)}`;
}

/** The marks that an opening carries. */
export function marksOf(opening: Opening): string[] {
  return opening.tag?.attributes?.[TREATED_ATTRIBUTE]?.split(' ').filter(Boolean) ?? [];
}

/** The opening with one more mark. */
export function withMark(opening: Opening, mark: string): Opening {
  const marks = marksOf(opening);
  if (marks.includes(mark)) return opening;
  const attributes = { ...opening.tag?.attributes, [TREATED_ATTRIBUTE]: [...marks, mark].join(' ') };
  return tagged(opening, { ...opening.tag, attributes });
}

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

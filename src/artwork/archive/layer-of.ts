import { parseAttribute } from '../gerber/attributes.js';
import { decodeText } from '../gerber/lex.js';
import type { ArchiveEntry } from './list-archive.js';

type Layer = Pick<ArchiveEntry, 'kind' | 'side' | 'reason'>;

/** How much of a layer is looked at for its file attributes, which stand in its header. */
const HEADER_BYTES = 16_384;

/**
 * Names of paste layers as programs give them, by ending or by a word. Common practice, no source.
 */
const PASTE_NAMES: readonly (readonly [RegExp, 'top' | 'bottom' | undefined])[] = [
  [/\.(gtp|crc|spt|tsp|tpaste|smt)$/i, 'top'],
  [/\.(gbp|crs|spb|bsp|bpaste|smb)$/i, 'bottom'],
  [
    /(f[._-]?paste|paste[._-]?(top|front|t\b|f\b)|top[._-]?paste|tcream|cream[._-]?top|top[._-]?cream|toppaste|tpst)/i,
    'top',
  ],
  [
    /(b[._-]?paste|paste[._-]?(bot|back|b\b)|bot(tom)?[._-]?paste|bcream|cream[._-]?bot|bot(tom)?[._-]?cream|bottompaste|bpst)/i,
    'bottom',
  ],
  [/(solder[._-]?paste|paste|stencil)/i, undefined],
];

const OUTLINE_NAMES = /(\.(gko|gm1|gml|oln|dim|bor)$|edge[._-]?cuts|outline|profile|board[._-]?edge|contour)/i;

/** What a Gerber layer is: by its file attribute, else by its name. */
export function layerOf(name: string, bytes: Uint8Array): Layer {
  const stated = fileFunction(bytes);
  if (stated) {
    const [kind = '', ...rest] = stated.map((value) => value.toLowerCase());
    const side = rest.includes('top')
      ? 'top'
      : rest.some((value) => value === 'bot' || value === 'bottom')
        ? 'bottom'
        : undefined;
    const reason = `says that it is ${stated.join(',')}`;
    if (kind === 'paste') return { kind: 'paste', reason, ...(side ? { side } : {}) };
    if (kind === 'profile') return { kind: 'outline', reason };
    return { kind: 'other layer', reason, ...(side ? { side } : {}) };
  }
  const base = name.split('/').at(-1) ?? name;
  for (const [pattern, side] of PASTE_NAMES) {
    if (pattern.test(base))
      return { kind: 'paste', reason: 'has the name of a paste layer', ...(side ? { side } : {}) };
  }
  if (OUTLINE_NAMES.test(base)) return { kind: 'outline', reason: 'has the name of a board outline' };
  return { kind: 'other layer', reason: 'a Gerber layer that does not say what it is' };
}

/** Values of the .FileFunction attribute, from a command or from a comment that holds one. */
function fileFunction(bytes: Uint8Array): readonly string[] | undefined {
  const header = decodeText(bytes.subarray(0, HEADER_BYTES));
  for (const match of header.matchAll(/(?:%|#@!\s*)\s*(TF\s*\.FileFunction[^*%]*)\*/g)) {
    const command = parseAttribute(match[1].replace(/[\r\n]+/g, ''));
    if (command) return command.values;
  }
  return undefined;
}

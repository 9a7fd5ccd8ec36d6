import { smallest } from '../../geometry/extremes.js';
import { type Sniffed, sniff } from '../sniff.js';

export type EntryKind =
  | 'paste'
  | 'outline'
  | 'drill'
  | 'other layer'
  | 'image'
  | 'drawing'
  | 'archive'
  | 'other'
  | 'unreadable';
export type Side = 'top' | 'bottom';

/** What a file is, and how that was found. */
export interface Verdict {
  readonly kind: EntryKind;
  readonly side?: Side;
  /** In words, for the user. */
  readonly reason: string;
  /** The better, the lower: what the file says of itself, what a job file says, its name, its format. */
  readonly rank: number;
}

/** Formats that may hold a paste layer, and what such a file is when nothing says so. */
const LAYERS: Readonly<Partial<Record<Sniffed, EntryKind>>> = {
  gerber: 'other layer',
  svg: 'drawing',
  pdf: 'drawing',
  png: 'image',
  bmp: 'image',
  tiff: 'image',
  jpeg: 'image',
  webp: 'image',
  gif: 'image',
};

const BY_ATTRIBUTE = 0;
const BY_JOB_FILE = 1;
const BY_NAME = 2;
/** Added for what is no Gerber layer: often only a picture of one. */
const NOT_GERBER = 10;

/** Says what a file of an archive is: its own attribute counts most, then a job file, then its name. */
export function classify(name: string, bytes: Uint8Array, jobFunction: string | undefined): Verdict {
  const format = sniff(bytes);
  if (format === 'zip' || format === 'gzip') {
    return { kind: 'archive', reason: 'an archive by its content', rank: BY_ATTRIBUTE };
  }
  const own = format === 'gerber' || format === 'drill' ? fileFunction(bytes) : undefined;
  if (format === 'drill') {
    const plated = own ?? (/npth|non.?plated/i.test(name) ? 'NonPlated' : undefined);
    return { kind: 'drill', reason: `a drill file by its content${plated ? ` (${plated})` : ''}`, rank: BY_ATTRIBUTE };
  }
  const plain = LAYERS[format];
  if (plain === undefined) return { kind: format === 'dxf' ? 'drawing' : 'other', reason: 'no layer', rank: BY_NAME };
  if (own !== undefined) return fromFunction(own, `says that it is ${own}`, BY_ATTRIBUTE);
  if (jobFunction !== undefined) return fromFunction(jobFunction, `the job file says ${jobFunction}`, BY_JOB_FILE);
  const byName = fromName(name);
  if (byName && format === 'gerber') return byName;
  if (byName?.kind !== 'paste') return { kind: plain, reason: 'nothing says that it is a paste layer', rank: BY_NAME };
  return { ...byName, reason: `${byName.reason} (${format})`, rank: byName.rank + NOT_GERBER };
}

/** The file function, from an attribute command or a comment that holds one. */
function fileFunction(bytes: Uint8Array): string | undefined {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1');
  const match = /(?:%|(?:G0?4|;)\s*#@!\s*)TF\s*\.FileFunction\s*,([^*%\r\n]*)/i.exec(text);
  return match?.[1].trim();
}

function fromFunction(text: string, reason: string, rank: number): Verdict {
  const values = text.split(',').map((value) => value.trim().toLowerCase());
  const side: Side | undefined = values.includes('top')
    ? 'top'
    : values.includes('bot') || values.includes('bottom')
      ? 'bottom'
      : undefined;
  const kind: EntryKind =
    values[0] === 'paste' || values[0] === 'solderpaste'
      ? 'paste'
      : values[0] === 'profile'
        ? 'outline'
        : 'other layer';
  return { kind, ...(side && kind === 'paste' ? { side } : {}), reason, rank };
}

/** Endings that layout programs in general use for paste and outline layers: common practice. */
const ENDINGS: Readonly<Record<string, { readonly kind: 'paste' | 'outline'; readonly side?: Side }>> = {
  gtp: { kind: 'paste', side: 'top' },
  gbp: { kind: 'paste', side: 'bottom' },
  gpt: { kind: 'paste', side: 'top' },
  gpb: { kind: 'paste', side: 'bottom' },
  tsp: { kind: 'paste', side: 'top' },
  bsp: { kind: 'paste', side: 'bottom' },
  spt: { kind: 'paste', side: 'top' },
  spb: { kind: 'paste', side: 'bottom' },
  crc: { kind: 'paste', side: 'top' },
  crs: { kind: 'paste', side: 'bottom' },
  gko: { kind: 'outline' },
  gm1: { kind: 'outline' },
  gml: { kind: 'outline' },
  oln: { kind: 'outline' },
  dim: { kind: 'outline' },
  bor: { kind: 'outline' },
};

const OUTLINE_NAME = /outline|edge[\W_]*cuts|profile|dimension|contour|board[\W_]*edge/;

function fromName(path: string): Verdict | undefined {
  const whole = path.slice(path.lastIndexOf('/') + 1);
  const name = whole.toLowerCase();
  const dot = name.lastIndexOf('.');
  const ending = dot < 0 ? '' : name.slice(dot + 1);
  const stem = dot < 0 ? name : name.slice(0, dot);
  const known = ENDINGS[ending];
  if (known) {
    return { kind: known.kind, side: known.side, reason: `named by its ending .${ending}`, rank: BY_NAME };
  }
  // A part of the name by itself, such as "spt" in "board-spt.gbr", counts like an ending.
  const words = stem.split(/[^a-z0-9]+/);
  if (/paste|cream|stencil/.test(stem)) {
    return {
      kind: 'paste',
      ...sideOf(whole.slice(0, dot < 0 ? undefined : dot)),
      reason: `named "${name}"`,
      rank: BY_NAME,
    };
  }
  const word = words.find((each) => ENDINGS[each]?.kind === 'paste');
  if (word !== undefined) {
    return { kind: 'paste', side: ENDINGS[word].side, reason: `named "${name}"`, rank: BY_NAME };
  }
  return OUTLINE_NAME.test(stem) ? { kind: 'outline', reason: `named "${name}"`, rank: BY_NAME } : undefined;
}

const TOP_WORDS: ReadonlySet<string> = new Set(['top', 'front', 'f', 't']);
const BOTTOM_WORDS: ReadonlySet<string> = new Set(['bottom', 'bot', 'back', 'b']);
const PASTE_WORDS = /solder|paste|cream|stencil/g;

/**
 * The side that a name says, by whole words: a board called "robot" or "laptop" says nothing of sides. The word nearest
 * to "paste" counts, "tcream" and "pastetop" first.
 */
function sideOf(stem: string): { side?: Side } {
  const words = stem
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^a-z0-9]+/);
  const isPaste = words.map((word) => word.search(PASTE_WORDS) >= 0);
  const found = words.flatMap((word, i): { side: Side; away: number }[] => {
    const rest = word.replace(PASTE_WORDS, '');
    const side = TOP_WORDS.has(rest) ? 'top' : BOTTOM_WORDS.has(rest) ? 'bottom' : undefined;
    const away = smallest(isPaste.map((is, k) => (is ? Math.abs(k - i) : Infinity)));
    return side ? [{ side, away }] : [];
  });
  const nearest = smallest(found.map(({ away }) => away));
  const sides = new Set(found.filter(({ away }) => away === nearest).map(({ side }) => side));
  // Words that contradict each other say nothing.
  return sides.size === 1 ? { side: [...sides][0] } : {};
}

/** What a Gerber job file says of other files: base name to file function. Anything else gives nothing. */
export function jobFunctions(bytes: Uint8Array): ReadonlyMap<string, string> {
  const found = new Map<string, string>();
  const text = Buffer.from(bytes).toString('utf8');
  if (!/^\s*\{/.test(text) || !text.includes('FilesAttributes')) return found;
  try {
    const job: unknown = JSON.parse(text.replace(/^\uFEFF/, ''));
    const files = (job as { FilesAttributes?: unknown }).FilesAttributes;
    for (const each of Array.isArray(files) ? files : []) {
      const { Path: path, FileFunction: role } = (each ?? {}) as { Path?: unknown; FileFunction?: unknown };
      if (typeof path === 'string' && typeof role === 'string') found.set(path.split(/[\\/]/).pop() ?? path, role);
    }
  } catch {
    // A damaged job file says nothing.
  }
  return found;
}

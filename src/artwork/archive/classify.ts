import { type Sniffed, sniff } from '../read.js';
import { layerFromName, settleSide, sideInFunction } from '../side.js';
import type { Side } from '../types.js';

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
  const { side } = settleSide({
    ...(own === undefined ? {} : { attribute: sideInFunction(own.split(',')) }),
    options: { name, jobFunction },
  });
  const sided = (kind: EntryKind): Pick<Verdict, 'kind' | 'side'> =>
    kind === 'paste' && side ? { kind, side } : { kind };
  if (own !== undefined) return { ...sided(kindOf(own)), reason: `says that it is ${own}`, rank: BY_ATTRIBUTE };
  if (jobFunction !== undefined)
    return { ...sided(kindOf(jobFunction)), reason: `the job file says ${jobFunction}`, rank: BY_JOB_FILE };
  const named = layerFromName(name);
  if (named.kind !== undefined && format === 'gerber')
    return { ...sided(named.kind), reason: named.reason, rank: BY_NAME };
  if (named.kind !== 'paste') return { kind: plain, reason: 'nothing says that it is a paste layer', rank: BY_NAME };
  return { ...sided('paste'), reason: `${named.reason} (${format})`, rank: BY_NAME + NOT_GERBER };
}

/** The file function, from an attribute command or a comment that holds one. */
function fileFunction(bytes: Uint8Array): string | undefined {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1');
  const match = /(?:%|(?:G0?4|;)\s*#@!\s*)TF\s*\.FileFunction\s*,([^*%\r\n]*)/i.exec(text);
  return match?.[1].trim();
}

function kindOf(fileFunction: string): EntryKind {
  const [kind] = fileFunction.split(',').map((value) => value.trim().toLowerCase());
  return kind === 'paste' || kind === 'solderpaste' ? 'paste' : kind === 'profile' ? 'outline' : 'other layer';
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

import type { Warning } from '../errors.js';
import { smallest } from '../geometry/bounds.js';
import { present } from '../kept.js';
import type { Artwork, ReadOptions, Side, SideFrom } from './types.js';

/** The side in the values of a .FileFunction (Gerber layer format specification, file attributes): `Paste,Bot`. */
export function sideInFunction(values: readonly string[]): Side | undefined {
  const plain = values.map((value) => value.trim().toLowerCase());
  if (plain.includes('top')) return 'top';
  return plain.includes('bot') || plain.includes('bottom') ? 'bottom' : undefined;
}

/** All that says on which side of the board a layer lies. */
export interface SideClues {
  /** What the file itself says. */
  readonly attribute?: Side;
  readonly options: Pick<ReadOptions, 'name' | 'side' | 'jobFunction'>;
}

const FROM_WORDS: Readonly<Record<SideFrom, string>> = {
  option: '--side',
  attribute: 'the file itself',
  'job file': 'its job file',
  name: 'its name',
};

/**
 * One rule for the side, for files and for entries of archives: what the user says, what the file says, what a job file
 * says, what its name says. Where two disagree, that is told.
 */
export function settleSide({ attribute, options }: SideClues): {
  side?: Side;
  sideFrom?: SideFrom;
  warnings: readonly Warning[];
} {
  const { name, side: named, jobFunction } = options;
  const said = (
    [
      ['option', named],
      ['attribute', attribute],
      ['job file', jobFunction === undefined ? undefined : sideInFunction(jobFunction.split(','))],
      ['name', name === undefined ? undefined : layerFromName(name).side],
    ] as const
  ).filter((clue): clue is readonly [SideFrom, Side] => clue[1] !== undefined);
  if (said.length === 0) return { warnings: [] };
  const [sideFrom, side] = said[0];
  const against = said.find(([, other]) => other !== side);
  const warnings: Warning[] = [];
  if (against) {
    warnings.push({
      code: 'SIDE_DISAGREES',
      place: { file: name },
      message: `${FROM_WORDS[sideFrom]} says ${side}, ${FROM_WORDS[against[0]]} says ${against[1]}; it is taken as the ${side} side.`,
      hint: sideFrom === 'option' ? undefined : 'Give --side top or --side bottom to settle it.',
    });
  }
  return { side, sideFrom, warnings };
}

/**
 * Told wherever a stencil is made of artwork of which nobody knows the side, unless the user says whether to mirror it:
 * a bottom layer that is not mirrored fits no board.
 */
export function sideUnknown(
  { side }: Pick<Artwork, 'side'>,
  file: string,
  mirror: 'auto' | 'yes' | 'no' = 'auto',
): Warning[] {
  return present(
    side === undefined &&
      mirror === 'auto' && {
        code: 'SIDE_UNKNOWN',
        place: { file },
        message:
          'nothing says whether this is a top or a bottom layer; it is NOT mirrored, which is right for the top side only.',
        hint: 'Say it with --side top or --side bottom.',
      },
  );
}

/** What a file's name says of the layer in it. */
export interface NamedLayer {
  /** Undefined when it says nothing. */
  readonly kind?: 'paste' | 'outline' | 'other layer';
  /** The kind in words: `a copper layer`. */
  readonly what?: string;
  readonly side?: Side;
  /** How it was found, in words. */
  readonly reason: string;
}

type Layer = Pick<NamedLayer, 'kind' | 'what' | 'side'>;

const PASTE: Layer = { kind: 'paste', what: 'a paste layer' };
const OUTLINE: Layer = { kind: 'outline', what: 'the outline of the board' };
const other = (what: string): Layer => ({ kind: 'other layer', what });
const PADS = other('a pad master (all pads, with those that get no paste)');
const COPPER = other('a copper layer');
const MASK = other('a solder mask');
const LEGEND = other('a legend (silk screen)');
const DRILL = other('a drill layer');

/** Endings that layout programs in general give to layers: common practice, no source. */
const ENDINGS: readonly (readonly [RegExp, Layer, Side?])[] = [
  [/^(gtp|tsp|spt|crc)$/, PASTE, 'top'],
  [/^(gbp|bsp|spb|crs)$/, PASTE, 'bottom'],
  [/^gpt$/, PADS, 'top'],
  [/^gpb$/, PADS, 'bottom'],
  [/^(gko|gm1|gml|oln|dim|bor)$/, OUTLINE],
  [/^gm\d*$/, other('a mechanical layer')],
  [/^(gtl|cmp)$/, COPPER, 'top'],
  [/^(gbl|sol)$/, COPPER, 'bottom'],
  [/^(g[1-9]\d?|gp[1-9])$/, COPPER],
  [/^(gts|stc)$/, MASK, 'top'],
  [/^(gbs|sts)$/, MASK, 'bottom'],
  [/^(gto|plc)$/, LEGEND, 'top'],
  [/^(gbo|pls)$/, LEGEND, 'bottom'],
  [/^(gd\d|gg\d|drl|xln)$/, DRILL],
];
/** Endings that also say it as a word by themselves, such as "spt" in "board-spt.gbr". */
const ENDING_AS_WORD = /^(g[tb][plso]|gp[tb]|gko|tsp|bsp|spt|spb|crc|crs)$/;

/** Words in names: common practice, no source. */
const WORDS: readonly (readonly [RegExp, Layer])[] = [
  [/paste|cream|stencil/g, PASTE],
  [/outline|edge[\W_]*cuts|profile|dimension|contour|board[\W_]*edge/g, OUTLINE],
  [/copper|(?<![a-z0-9])([fb]|in\d+)[\W_]?cu(?![a-z0-9])/g, COPPER],
  [/solder[\W_]?mask|(?<![a-z0-9])[fb][\W_]?mask/g, MASK],
  [/silk|legend|overlay/g, LEGEND],
  [/drill|(?<![a-z0-9])n?pth(?![a-z0-9])|(?<![a-z0-9])(non[\W_]?)?plated(?![a-z0-9])/g, DRILL],
];

/**
 * What a file's name says of its layer and side. Folders and the archive that it comes from say nothing: a whole project
 * may be called "stencil".
 *
 * @param path - with or without folders; `fab.zip:board.gbp` for an entry of an archive
 */
export function layerFromName(path: string): NamedLayer {
  const name = path.replace(/^.*[\\/]/s, '').replace(/^.*\.zip:/is, '');
  const dot = name.lastIndexOf('.');
  const [stem, ending] = dot < 0 ? [name, ''] : [name.slice(0, dot), name.slice(dot + 1).toLowerCase()];
  const bySide = sideInWords(stem, ending);
  const known = byEnding(ending);
  if (known) return { ...known, side: known.side ?? bySide, reason: `named by its ending .${ending}` };
  const reason = `named "${name.toLowerCase()}"`;
  const worded = lastWord(stem.toLowerCase());
  const word = stem
    .toLowerCase()
    .split(/[^a-z0-9]+/)
    .find((each) => ENDING_AS_WORD.test(each));
  const layer = worded ?? (word === undefined ? undefined : byEnding(word));
  return { ...layer, side: bySide ?? layer?.side, reason };
}

function byEnding(ending: string): Layer | undefined {
  const found = ENDINGS.find(([pattern]) => pattern.test(ending));
  return found && { ...found[1], ...(found[2] ? { side: found[2] } : {}) };
}

/** Names go from the project to the layer, so the last word that says a layer counts. */
function lastWord(stem: string): Layer | undefined {
  let [last, layer]: [number, Layer | undefined] = [-1, undefined];
  for (const [pattern, each] of WORDS) {
    for (const { index } of stem.matchAll(pattern)) if (index > last) [last, layer] = [index, each];
  }
  return layer;
}

const PASTE_WORDS = /solder|paste|cream|stencil/g;
/** What stands together with a side in one word: "bottomlayer", "pastebot", "topside". */
const COMPANIONS = /solder|paste|cream|stencil|layer|side|mask|smt|smd|^sp(?=top$|bot$)/g;
const SIDES: Readonly<Record<string, Side>> = { top: 'top', bottom: 'bottom', bot: 'bottom', btm: 'bottom' };
/** These say a side only next to "paste", or as the last word: a board may be a front panel, or revision B. */
const WEAK_SIDES: Readonly<Record<string, Side>> = { front: 'top', f: 'top', t: 'top', back: 'bottom', b: 'bottom' };
const REVISION = /^(rev|revision|ver|version|v|issue|variant)$/;

/**
 * The side that a name says, by whole words: a board called "robot" or "laptop" says nothing of sides. The word nearest
 * to "paste" counts, "tcream" and "pastetop" first; words that contradict each other say nothing.
 */
function sideInWords(stem: string, ending: string): Side | undefined {
  const words = stem
    .replace(/solder[\W_]*side/gi, ' bottom ')
    .replace(/comp(onent)?[\W_]*side/gi, ' top ')
    // IPC-T-50's terms (from memory): the primary side is the one with the most complex parts, by convention the top.
    .replace(/primary[\W_]*side/gi, ' top ')
    .replace(/secondary[\W_]*side/gi, ' bottom ')
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .split(/[^a-z]+/)
    .filter((word) => word !== '');
  if (Object.hasOwn(SIDES, ending)) words.push(ending);
  const isPaste = words.map((word) => word.search(PASTE_WORDS) >= 0);
  const found = words.flatMap((word, i): { side: Side; away: number }[] => {
    const rest = word.replace(COMPANIONS, '');
    const away = smallest(isPaste.map((is, k) => (is ? Math.abs(k - i) : Infinity)));
    if (Object.hasOwn(SIDES, rest)) return [{ side: SIDES[rest], away }];
    if (!Object.hasOwn(WEAK_SIDES, rest) || REVISION.test(words[i - 1] ?? '')) return [];
    const isLast = i === words.length - 1 && rest.length > 1;
    // Of two equally near words the plain one counts.
    return away <= 1 || isLast ? [{ side: WEAK_SIDES[rest], away: away + 0.5 }] : [];
  });
  const nearest = smallest(found.map(({ away }) => away));
  const sides = new Set(found.filter(({ away }) => away === nearest).map(({ side }) => side));
  return sides.size === 1 ? [...sides][0] : undefined;
}

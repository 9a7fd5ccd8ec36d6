import type { Warning } from '../errors.js';
import { layerFromName, type Side } from './layer-name.js';
import type { Artwork, ReadOptions, SideFrom } from './types.js';

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

const WORDS: Readonly<Record<SideFrom, string>> = {
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
      message: `${WORDS[sideFrom]} says ${side}, ${WORDS[against[0]]} says ${against[1]}; it is taken as the ${side} side.`,
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
  if (side !== undefined || mirror !== 'auto') return [];
  return [
    {
      code: 'SIDE_UNKNOWN',
      place: { file },
      message:
        'nothing says whether this is a top or a bottom layer; it is NOT mirrored, which is right for the top side only.',
      hint: 'Say it with --side top or --side bottom.',
    },
  ];
}

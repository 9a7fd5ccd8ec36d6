import { InputError } from '../errors.js';
import { copyAt } from '../geometry/copies.js';
import type { Point, Size } from '../geometry/types.js';
import { aboveZero, checkGiven, listOf, needed, objectOf, someFunction, type Want, zeroOrMore } from '../given.js';
import type { FilmSheet, LaidStencil } from './types.js';

export interface PackOptions {
  /** The bed or sheet, mm; not given: as large as needed. */
  readonly bed?: Size;
  /** Where no bed is given: as wide as a row may be, mm. */
  readonly rowMm?: number;
  /** Film between two pieces, mm. */
  readonly spacingMm: number;
  /** Moves lower left corners, in the stencils' order, by less than anybody measures; not given: none. */
  readonly onDots?: (corners: readonly Point[]) => readonly Point[];
}

const PACK_OPTIONS: { readonly [key in keyof PackOptions]-?: Want } = {
  bed: objectOf({ widthMm: aboveZero, heightMm: aboveZero }),
  rowMm: aboveZero,
  spacingMm: needed(zeroOrMore),
  onDots: someFunction,
};

interface Spot {
  readonly index: number;
  readonly x: number;
  readonly y: number;
}

/**
 * Puts stencils on one sheet, in rows from the lower left, tallest first.
 *
 * @throws {InputError} BAD_VALUE for options and stencils that are none; DOES_NOT_FIT, which says how much is missing
 * @example packSheet([laid, laid], { spacingMm: 5 }).pieces.length // 2
 */
export function packSheet(stencils: readonly LaidStencil[], options: PackOptions): FilmSheet {
  checkGiven('options', options, PACK_OPTIONS);
  checkGiven(
    'packSheet',
    { stencils },
    { stencils: needed(listOf(objectOf({ widthMm: aboveZero, heightMm: aboveZero }), 1)) },
  );
  const packed = [...placeInRows(stencils, options)].sort((p, q) => p.index - q.index);
  const corners = packed.map(({ x, y }): Point => [x, y]);
  const byIndex = (options.onDots?.(corners) ?? corners).map(([x, y], index): Spot => ({ index, x, y }));
  const used = byIndex.reduce(
    (size, { index, x, y }) => ({
      widthMm: Math.max(size.widthMm, x + stencils[index].widthMm),
      heightMm: Math.max(size.heightMm, y + stencils[index].heightMm),
    }),
    { widthMm: 0, heightMm: 0 },
  );
  const { widthMm, heightMm } = options.bed ?? used;
  return {
    widthMm,
    heightMm,
    openings: byIndex.flatMap(({ index, x, y }) =>
      stencils[index].openings.map((one) => ({
        ...one,
        opening: copyAt(one.opening, x, y, one.opening.tag),
        stencil: index,
      })),
    ),
    outlines: byIndex.flatMap(({ index, x, y }) =>
      stencils[index].outline.map((ring) => ring.map(([px, py]): [number, number] => [px + x, py + y])),
    ),
    pieces: byIndex.map(({ index, x, y }) => ({
      name: stencils[index].name,
      at: [x, y] as const,
      widthMm: stencils[index].widthMm,
      heightMm: stencils[index].heightMm,
    })),
    witnessesAt: byIndex.flatMap(({ index, x, y }) => {
      const at = stencils[index].witnessAt;
      return at ? [[at[0] + x, at[1] + y] as const] : [];
    }),
    warnings: stencils.flatMap(({ warnings }) => warnings),
  };
}

function placeInRows(stencils: readonly LaidStencil[], { bed, rowMm = Infinity, spacingMm }: PackOptions): Spot[] {
  const order = stencils.map((_, i) => i).sort((p, q) => stencils[q].heightMm - stencils[p].heightMm || p - q);
  const limit = bed?.widthMm ?? rowMm;
  const spots: Spot[] = [];
  let [x, y, rowHeight] = [0, 0, 0];
  for (const index of order) {
    const { widthMm, heightMm } = stencils[index];
    if (x > 0 && x + widthMm > limit + 1e-9) {
      y += rowHeight + spacingMm;
      x = 0;
      rowHeight = 0;
    }
    spots.push({ index, x, y });
    x += widthMm + spacingMm;
    rowHeight = Math.max(rowHeight, heightMm);
  }
  if (bed) refuseMisfit(stencils, spots, bed);
  return spots;
}

function refuseMisfit(
  stencils: readonly LaidStencil[],
  spots: readonly Spot[],
  bed: { widthMm: number; heightMm: number },
): void {
  const missingX = Math.max(...spots.map(({ index, x }) => x + stencils[index].widthMm)) - bed.widthMm;
  const missingY = Math.max(...spots.map(({ index, y }) => y + stencils[index].heightMm)) - bed.heightMm;
  if (missingX <= 1e-9 && missingY <= 1e-9) return;
  const parts = [
    missingX > 1e-9 ? `${missingX.toFixed(1)} mm in width` : '',
    missingY > 1e-9 ? `${missingY.toFixed(1)} mm in height` : '',
  ].filter(Boolean);
  const fitting = spots.filter(
    ({ index, x, y }) => x + stencils[index].widthMm <= bed.widthMm && y + stencils[index].heightMm <= bed.heightMm,
  ).length;
  throw new InputError({
    code: 'DOES_NOT_FIT',
    message: `${stencils.length === 1 ? 'one stencil does' : `${stencils.length} stencils do`} not fit on ${bed.widthMm} x ${bed.heightMm} mm: ${parts.join(' and ')} missing; ${fitting} would fit.`,
    hint: 'Use a larger sheet, smaller --margin-mm or --spacing-mm, fewer copies, or --rotate 90.',
  });
}

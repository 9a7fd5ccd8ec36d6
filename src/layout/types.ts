import type { DrilledHole } from '../artwork/drill/drill-program.js';
import type { Warning } from '../errors.js';
import type { Opening, Point, Ring } from '../geometry/types.js';

/** Why something is on the sheet. */
export type SheetPart = 'paste' | 'corner mark' | 'outline tick' | 'hole' | 'lettering';

/** One opening of a sheet, film mm, with what it is for. */
export interface SheetOpening {
  readonly part: SheetPart;
  readonly opening: Opening;
  /** Paste only: number in its artwork, from 1. */
  readonly number?: number;
}

export type FilmSide = 'left' | 'right' | 'top' | 'bottom';

/** One stencil to lay out, everything as seen from the squeegee side (bottom layers mirrored already), mm. */
export interface StencilRequest {
  readonly name: string;
  readonly openings: readonly Opening[];
  /** Outline of the board; not given: the box around the openings stands for it. */
  readonly outline?: readonly Ring[];
  readonly holes?: readonly DrilledHole[];
  /** Lines of text for the margin. */
  readonly words: readonly string[];
  readonly cornerMarks: boolean;
  readonly outlineTicks: boolean;
  /** Free film around the board for tape and tension, mm. */
  readonly marginMm: number;
  /** A side with more film to hold it by, and how much more. */
  readonly handle?: { readonly side: FilmSide; readonly widthMm: number };
  /** Side of the square kept free for a witness coupon, mm; 0 for none. */
  readonly witnessMm: number;
  /** Cap height of the lettering, mm. */
  readonly letteringMm: number;
  /** Widest kerf that the lettering must stand, mm. */
  readonly kerfMm: number;
}

/** A stencil laid out on its own piece of film, lower left corner at the origin, film mm. */
export interface LaidStencil {
  readonly name: string;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly openings: readonly SheetOpening[];
  /** The board's outline on the piece, for pictures and the dry fit. */
  readonly outline: readonly Ring[];
  /** Lower left corner of the square for the witness coupon. */
  readonly witnessAt?: Point;
  readonly warnings: readonly Warning[];
}

/** All stencils on one sheet, lower left corner at the origin, film mm. */
export interface FilmSheet {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly openings: readonly (SheetOpening & { readonly stencil: number })[];
  readonly outlines: readonly Ring[];
  readonly pieces: readonly {
    readonly name: string;
    readonly at: Point;
    readonly widthMm: number;
    readonly heightMm: number;
  }[];
  readonly witnessesAt: readonly Point[];
  readonly warnings: readonly Warning[];
}

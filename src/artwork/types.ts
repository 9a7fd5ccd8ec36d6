import type { Warning } from '../errors.js';
import type { Box, Opening, Size } from '../geometry/types.js';

export type Side = 'top' | 'bottom';

/** Who said the side, from the weightiest down. */
export type SideFrom = 'option' | 'attribute' | 'job file' | 'name';

export type ArtworkFormat = 'gerber' | 'png' | 'bmp' | 'tiff' | 'jpeg' | 'webp' | 'gif' | 'svg' | 'pdf';

/** A distance that the user knows between the centres of two numbered openings; it settles the size of an image. */
export interface KnownDistance {
  readonly from: number;
  readonly to: number;
  readonly distanceMm: number;
}

/** How to read artwork. Everything is optional; what a format does not need, it ignores. */
export interface ReadOptions {
  /** File name, for messages and as the weakest hint of layer and side. Never used to find the format. */
  readonly name?: string;
  /** The side of the board, over what the file and its name say. */
  readonly side?: Side;
  /** What a Gerber job file says of this file: `Paste,Bot`. */
  readonly jobFunction?: string;
  /** Resolution of an image, dots per inch, over what the file says. Two numbers: X and Y. */
  readonly dpi?: number | readonly [number, number];
  /** True width of the whole image or page, mm, instead of a resolution. */
  readonly widthMm?: number;
  readonly knownDistance?: KnownDistance;
  /** Which pixels are openings. `auto`: the small part that does not touch the border, if that is clear. */
  readonly polarity?: 'auto' | 'dark' | 'light';
  /** Take the pixels of an image themselves as openings, as a machine burns them, not the shapes that they stand for. */
  readonly asDots?: boolean;
  /** Drop traced openings whose area is below that of a square this wide, mm. Only on request; counted in a warning. */
  readonly dropSpecksMm?: number;
  /** Page of a PDF, counting from 1. */
  readonly page?: number;
  /** Read it although it looks like another kind of layer (copper, drill, …). */
  readonly acceptAnyLayer?: boolean;
}

/** A paste layer as openings. */
export interface Artwork {
  readonly format: ArtworkFormat;
  /** Numbered from 1 in this order everywhere. Millimetres, as the file lies. */
  readonly openings: readonly Opening[];
  readonly warnings: readonly Warning[];
  /** Undefined when nothing says it. Openings are as the file has them: a bottom layer is not mirrored yet. */
  readonly side?: Side;
  readonly sideFrom?: SideFrom;
  /** The image's or page's own canvas, lower left corner at the origin; undefined for formats without one. */
  readonly canvas?: Size;
  readonly bounds: Box | undefined;
}
